"""From rows of the record to frozen records, and finding rows by the names that people use."""

from __future__ import annotations

import json
import time
import uuid
from collections.abc import Collection, Mapping, Sequence
from dataclasses import fields
from datetime import date
from typing import Any, TypeVar, cast

from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from defectmap.errors import ChangedMeanwhile, JobError, NotInRecord
from defectmap.record import logbook, model
from defectmap.record.agreed import read_target
from defectmap.record.sealing import canonical
from defectmap.trade.facts import (
    Figures,
    JobRecord,
    MeasurementRecord,
    PhotographRecord,
    StageRecord,
    StepRecord,
)
from defectmap.words.remark import Remark

R = TypeVar("R")
Entry = TypeVar("Entry", model.Photograph, logbook.Reading, logbook.Step, logbook.Damage)
Kept = TypeVar("Kept", model.KeptComparison, logbook.Damage, logbook.Running)
MAX_NAME = 80


def new_id() -> str:
    """Make an identity that no other place makes, and that sorts after those made before it.

    What is entered with one and the same time (two steps typed as "10:00") stays in the order of entry.
    As UUID version 7 of RFC 9562 has it, but counting nanoseconds: 16 hexadecimal digits of time, 16 by lot.
    """
    return f"{time.time_ns():016x}{uuid.uuid4().hex[:16]}"


def checked_name(name: str, what: str) -> str:
    """The name without space around it.

    Raises
    ------
    JobError
        It is empty, too long, or holds what cannot be printed.
    """
    name = name.strip()
    if not name or len(name) > MAX_NAME or not name.isprintable():
        raise JobError(f"The name of a {what} has 1 to {MAX_NAME} printable characters; {name!r} has not.")
    return name


def checked_day(words: str) -> str:
    """A day as the record writes it.

    Raises
    ------
    JobError
        It is no day.

    Examples
    --------
    >>> checked_day("2026-05-12")
    '2026-05-12'
    """
    try:
        return date.fromisoformat(words).isoformat()
    except ValueError as error:
        raise JobError(f"{words!r} is not a valid day; write it as 2026-03-31.") from error


def find_job(session: Session, reference: str, *, lock: bool = False) -> model.Job:
    """Row of the job of that reference; `lock` keeps other writers to this job waiting (PostgreSQL).

    Raises
    ------
    NotInRecord
        There is none.
    """
    query = select(model.Job).where(model.Job.reference == reference)
    row = session.scalars(query.with_for_update() if lock else query).one_or_none()
    if row is None:
        known = session.scalars(
            select(model.Job.reference).order_by(model.Job.created_at.desc()).limit(5)
        ).all()
        raise NotInRecord(
            f"Job {reference!r} is not in this record; "
            + (f"the latest are {', '.join(known)}." if known else "create one first.")
        )
    return row


def find_panel(session: Session, job: model.Job, name: str) -> model.Panel:
    """Row of the panel of that name.

    Raises
    ------
    NotInRecord
        There is none.
    """
    query = select(model.Panel).where(model.Panel.job_id == job.id, model.Panel.name == name)
    row = session.scalars(query).one_or_none()
    if row is None:
        names = [panel.name for panel in panels_in(session, job)]
        raise NotInRecord(
            f"Job {job.reference} has no panel {name!r}; it has {', '.join(names) or 'none'}. "
            "Add the panel first, or use one of these names."
        )
    return row


def panels_in(session: Session, job: model.Job) -> Sequence[model.Panel]:
    """Rows of the panels of a job, in their order."""
    query = select(model.Panel).where(model.Panel.job_id == job.id)
    return session.scalars(query.order_by(model.Panel.position)).all()


def measurements_in(session: Session, job: model.Job) -> list[tuple[model.Measurement, model.Photograph]]:
    """Every measurement in a job with its photograph, the latest last; without the results themselves."""
    query = select(model.Measurement, model.Photograph).join(
        model.Photograph, model.Measurement.photograph_id == model.Photograph.id
    )
    of_job = query.where(model.Photograph.job_id == job.id).order_by(model.Measurement.made_at)
    return [(row, photograph) for row, photograph in session.execute(of_job)]


def find_entry(session: Session, table: type[Entry], entry_id: str, job: model.Job, what: str) -> Entry:
    """Row of something that was entered in a job, on one of its panels or of the job itself.

    Raises
    ------
    NotInRecord
        The job has no such entry.
    """
    row = session.get(table, entry_id)
    on = getattr(row, "panel_id", None)
    own: Any = row if on is None else session.get(model.Panel, on)
    if row is None or own.job_id != job.id:
        raise NotInRecord(f"Job {job.reference} has no such {what}; look at its list again.")
    return row


def find_vehicle(session: Session, name: str) -> model.Vehicle:
    """Row of the vehicle of that name.

    Raises
    ------
    NotInRecord
        There is none.
    """
    row = session.scalars(select(model.Vehicle).where(model.Vehicle.name == name)).one_or_none()
    if row is None:
        known = session.scalars(
            select(model.Vehicle.name).order_by(model.Vehicle.created_at.desc()).limit(5)
        ).all()
        there = f"the latest are {', '.join(known)}." if known else "add one first."
        raise NotInRecord(f"There is no vehicle {name!r} in this record; {there}")
    return row


def spot_of(session: Session, panel: model.Panel, name: str) -> model.Spot:
    """Row of the spot of that name on the panel, created where it is new."""
    name = checked_name(name, "spot")
    query = select(model.Spot).where(model.Spot.panel_id == panel.id, model.Spot.name == name)
    row = session.scalars(query).one_or_none()
    if row is None:
        row = model.Spot(id=new_id(), panel_id=panel.id, name=name)
        session.add(row)
        session.flush()
    return row


def copied(kind: type[R], row: Any, **given: Any) -> R:
    """A frozen copy of a row; `given` takes the place of its own fields of that name."""
    names = fields(cast(Any, kind))
    values = {f.name: getattr(row, f.name) for f in names if f.name not in given}
    return kind(**values, **given)


def stored_gates(gates: Sequence[Remark]) -> str:
    """Gates as a row keeps them: codes with values, in JSON."""
    return canonical([gate.record() for gate in gates])


def gates_of(stored: str) -> tuple[Remark, ...]:
    """The gates of a row; what an earlier version kept as a sentence is a remark of the code "kept"."""
    return tuple(
        Remark(code="kept", values={"words": one}) if isinstance(one, str) else Remark(**one)
        for one in json.loads(stored)
    )


def job_record(row: model.Job) -> JobRecord:
    """Frozen copy."""
    target, earlier = read_target(row.target)
    return copied(JobRecord, row, target=target, earlier_targets=earlier)


def photograph_record(row: model.Photograph, *, panel: str, spot: str) -> PhotographRecord:
    """Frozen copy."""
    return copied(PhotographRecord, row, panel=panel, spot=spot, warnings=gates_of(row.warnings))


def measurement_record(row: model.Measurement) -> MeasurementRecord:
    """Frozen copy."""
    return copied(MeasurementRecord, row, settings=json.loads(row.settings), figures=copied(Figures, row))


def step_record(row: logbook.Step, *, spot: str | None) -> StepRecord:
    """Frozen copy."""
    return copied(StepRecord, row, spot=spot, warnings=gates_of(row.warnings))


def stage_record(row: logbook.StageEntry) -> StageRecord:
    """Frozen copy."""
    return copied(StageRecord, row, warnings=gates_of(row.warnings))


def one_of(value: str, known: tuple[str, ...], what: str) -> None:
    """Refuse a value that is not one of those known.

    Raises
    ------
    JobError
        It is not.
    """
    if value not in known:
        raise JobError(f"{what} {value!r} is not known; use one of: {', '.join(known)}.")


def change_row(
    row: model.Job | model.Panel | model.Vehicle,
    changes: Mapping[str, str | float | None],
    *,
    may: Collection[str],
    seen_version: int,
    what: str,
) -> None:
    """Change some columns of a row that counts its changes, if it is as it was seen.

    Raises
    ------
    ChangedMeanwhile
        Somebody else changed it since.
    ValueError
        A column is not one that `may` change.
    """
    if unknown := set(changes) - set(may):
        raise ValueError(f"cannot change {sorted(unknown)}")
    if row.version != seen_version:
        raise ChangedMeanwhile(f"Somebody else has just changed {what}; look at it again, then repeat.")
    for key, value in changes.items():
        setattr(row, key, value)
    row.version += 1


def of_panels(table: type[Kept], job: model.Job) -> Select[Kept, str]:
    """Rows of a table that belong to panels of a job, each with its panel's name."""
    return (
        select(table, model.Panel.name)
        .join(model.Panel, table.panel_id == model.Panel.id)
        .where(model.Panel.job_id == job.id)
    )
