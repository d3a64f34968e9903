"""Notes, checklists and the shop's settings."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from sqlalchemy import select

from defectmap.errors import NotInRecord
from defectmap.record import logbook, model
from defectmap.record.rows import copied, find_job, find_panel, new_id
from defectmap.record.sealing import canonical
from defectmap.record.store import Store
from defectmap.trade.facts import CheckRecord, NoteRecord


def add_note(store: Store, reference: str, words: str, *, panel: str | None = None) -> NoteRecord:
    """Keep a note about a job, or about one of its panels."""
    with store.writing() as session:
        job = find_job(session, reference)
        panel_id = None if panel is None else find_panel(session, job, panel).id
        row = logbook.Note(id=new_id(), job_id=job.id, panel_id=panel_id, words=words, at=store.clock())
        session.add(row)
    return copied(NoteRecord, row, panel=panel)


def notes_of(store: Store, reference: str) -> tuple[NoteRecord, ...]:
    """The notes of a job, oldest first."""
    with store.reading() as session:
        job = find_job(session, reference)
        rows = session.execute(
            select(logbook.Note, model.Panel.name)
            .outerjoin(model.Panel, logbook.Note.panel_id == model.Panel.id)
            .where(logbook.Note.job_id == job.id)
            .order_by(logbook.Note.at, logbook.Note.id)
        )
        return tuple(copied(NoteRecord, note, panel=panel) for note, panel in rows)


def start_checklist(store: Store, reference: str, list_name: str, lines: Sequence[str]) -> None:
    """Add the lines of a checklist to a job; lines that are there already stay as they are."""
    with store.writing() as session:
        job = find_job(session, reference, lock=True)
        there = set(
            session.scalars(
                select(logbook.Check.words).where(
                    logbook.Check.job_id == job.id, logbook.Check.list_name == list_name
                )
            )
        )
        for position, words in enumerate(dict.fromkeys(lines)):
            if words not in there:
                session.add(
                    logbook.Check(
                        id=new_id(),
                        job_id=job.id,
                        list_name=list_name,
                        words=words,
                        position=position,
                        done_at=None,
                        done_by=None,
                    )
                )


def tick(store: Store, reference: str, check_id: str, *, by: str = "", done: bool = True) -> CheckRecord:
    """Tick one line of a checklist, or take the tick back."""
    with store.writing() as session:
        job = find_job(session, reference)
        row = session.get(logbook.Check, check_id)
        if row is None or row.job_id != job.id:
            raise NotInRecord(f"Job {reference} has no such line on a checklist; list the checklists again.")
        row.done_at, row.done_by = (store.clock(), by) if done else (None, None)
    return copied(CheckRecord, row)


def checklists_of(store: Store, reference: str) -> tuple[CheckRecord, ...]:
    """Every line of every checklist of a job."""
    with store.reading() as session:
        job = find_job(session, reference)
        rows = session.scalars(
            select(logbook.Check)
            .where(logbook.Check.job_id == job.id)
            .order_by(logbook.Check.list_name, logbook.Check.position)
        )
        return tuple(copied(CheckRecord, row) for row in rows)


def put_setting(store: Store, name: str, value: Any) -> None:
    """Keep a setting of the shop (anything that JSON can hold), in place of an earlier one of that name."""
    with store.writing() as session:
        session.merge(model.Setup(name=name, value=canonical(value), changed_at=store.clock()))


def setting(store: Store, name: str, default: Any = None) -> Any:
    """Look up a setting of the shop."""
    with store.reading() as session:
        row = session.get(model.Setup, name)
        return default if row is None else json.loads(row.value)
