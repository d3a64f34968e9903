"""Care dates: kept, listed by day, ticked, and written as a calendar file (iCalendar, RFC 5545)."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta

from sqlalchemy import delete, select

from defectmap.errors import JobError, NotInRecord
from defectmap.record import logbook, model
from defectmap.record.rows import checked_day, copied, find_job, new_id
from defectmap.record.store import Store
from defectmap.trade.care import CARE_KINDS, care_days, protection_of
from defectmap.trade.facts import CareRecord
from defectmap.trade.tables import TradeTables


def add_care(store: Store, reference: str, day: str, kind: str, *, words: str = "") -> CareRecord:
    """Keep one day on which something is due.

    Raises
    ------
    JobError
        The day or the kind is not known.
    """
    if kind not in CARE_KINDS:
        raise JobError(f"{kind!r} is not a kind of care; use one of: {', '.join(CARE_KINDS)}.")
    with store.writing() as session:
        job = find_job(session, reference)
        row = logbook.CareDate(
            id=new_id(), job_id=job.id, day=checked_day(day), kind=kind, words=words.strip(), done_at=None
        )
        session.add(row)
    return copied(CareRecord, row, job=reference, vehicle="")


def plan_care(
    store: Store, reference: str, tables: TradeTables, *, protection: str, done_on: date
) -> tuple[CareRecord, ...]:
    """Keep the days that follow from a protection, in place of those planned before and not yet done."""
    kind = protection_of(protection, tables)
    days = care_days(kind, done_on)
    with store.writing() as session:
        job = find_job(session, reference, lock=True)
        planned = [one for one in CARE_KINDS if one != "other"]
        session.execute(
            delete(logbook.CareDate).where(
                logbook.CareDate.job_id == job.id,
                logbook.CareDate.done_at.is_(None),
                logbook.CareDate.kind.in_(planned),
            )
        )
        rows = [
            logbook.CareDate(
                id=new_id(),
                job_id=job.id,
                day=one.day.isoformat(),
                kind=one.kind,
                words=kind.name,
                done_at=None,
            )
            for one in days
        ]
        session.add_all(rows)
    return tuple(copied(CareRecord, row, job=reference, vehicle="") for row in rows)


def care_of(
    store: Store, *, reference: str | None = None, since: date | None = None, until: date | None = None
) -> tuple[CareRecord, ...]:
    """Care dates by day: of one job, or of all; done ones too."""
    query = (
        select(logbook.CareDate, model.Job.reference, model.Job.vehicle, model.Vehicle.name)
        .join(model.Job, logbook.CareDate.job_id == model.Job.id)
        .outerjoin(model.Vehicle, model.Job.vehicle_id == model.Vehicle.id)
        .order_by(logbook.CareDate.day, model.Job.reference, logbook.CareDate.kind)
    )
    if since is not None:
        query = query.where(logbook.CareDate.day >= since.isoformat())
    if until is not None:
        query = query.where(logbook.CareDate.day <= until.isoformat())
    with store.reading() as session:
        if reference is not None:
            query = query.where(logbook.CareDate.job_id == find_job(session, reference).id)
        return tuple(
            copied(CareRecord, row, job=job, vehicle=name or words)
            for row, job, words, name in session.execute(query)
        )


def tick_care(store: Store, care_id: str, *, done: bool = True) -> CareRecord:
    """Say that a day's care was done, or take that back.

    Raises
    ------
    NotInRecord
        There is no such date.
    """
    with store.writing() as session:
        row = session.get(logbook.CareDate, care_id)
        if row is None:
            raise NotInRecord("There is no such care date; list them again.")
        row.done_at = store.clock() if done else None
        job = session.get_one(model.Job, row.job_id).reference
    return copied(CareRecord, row, job=job, vehicle="")


def calendar_file(care: Sequence[CareRecord], titles: Sequence[str], *, made_at: str) -> bytes:
    """A calendar file (iCalendar, RFC 5545) with one all-day entry a date; nobody's name is in it.

    Parameters
    ----------
    care : sequence of CareRecord
        The dates.
    titles : sequence of str
        What each is called, in the same order.
    made_at : str
        Time of writing, ISO 8601; the same dates and time give the same bytes.
    """
    from icalendar import Calendar, Event

    calendar = Calendar()
    calendar.add("prodid", "-//written by defectmap//care dates//EN")
    calendar.add("version", "2.0")
    for one, title in zip(care, titles, strict=True):
        event = Event()
        day = date.fromisoformat(one.day)
        event.add("uid", f"{one.id}@defectmap")  # the same date again replaces itself
        event.add("dtstamp", datetime.fromisoformat(made_at))
        event.add("dtstart", day)
        event.add("dtend", day + timedelta(days=1))  # RFC 5545, 3.6.1: the end of a day is not in it
        event.add("summary", title)
        calendar.add_component(event)
    return bytes(calendar.to_ical())
