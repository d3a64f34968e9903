"""Jobs: create, change, close, look up, find one among many."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from defectmap.errors import AlreadyInRecord
from defectmap.record import model
from defectmap.record.agreed import changed_target, check_target, stored_target
from defectmap.record.panels import PanelSpec, panel_row
from defectmap.record.rows import change_row, checked_name, find_job, find_vehicle, job_record, new_id, one_of
from defectmap.record.store import Store
from defectmap.trade.facts import JobRecord, Target
from defectmap.trade.surface import PAINTS

_CHANGEABLE = {"customer", "vehicle", "colour", "paint"}
ORDERS: Mapping[str, tuple[Callable[[JobRecord], Any], bool]] = {
    "Latest first": (lambda job: job.created_at, True),
    "Changed last": (lambda job: job.changed_at, True),
    "Reference": (lambda job: job.reference.casefold(), False),
    "Vehicle": (lambda job: job.vehicle.casefold(), False),
}


def create_job(
    store: Store,
    reference: str,
    *,
    panels: Sequence[PanelSpec] = (),
    customer: str = "",
    kind: str = "car",
    vehicle: str = "",
    colour: str = "",
    paint: str = "unknown",
    target: Target | None = None,
    of: str | None = None,
) -> JobRecord:
    """Create a job with its panels, in one step.

    Parameters
    ----------
    of : str, optional
        Name of the vehicle on record that comes again: kind, make, colour and paint are taken from it where
        they are not given, and what was known of its panels at the last visit.

    Raises
    ------
    AlreadyInRecord
        The reference or a panel's name is taken.
    JobError
        A name is empty, a value is not one of those known, or a target cannot be right.
    """
    reference = checked_name(reference, "job")
    one_of(paint, PAINTS, "paint")
    target = target or Target()
    check_target(target)
    now = store.clock()
    row = model.Job(
        id=new_id(),
        reference=reference,
        customer=customer,
        kind=kind,
        vehicle=vehicle,
        colour=colour,
        paint=paint,
        target=stored_target(target),
        created_at=now,
        changed_at=now,
        version=1,
    )
    with store.writing() as session:
        if of is not None:
            panels = _take_from_vehicle(session, row, of, panels)
        if session.scalar(select(model.Job.id).where(model.Job.reference == reference)):
            raise AlreadyInRecord(f"Job {reference!r} exists already; choose another reference.")
        session.add(row)
        session.flush()
        for position, spec in enumerate(panels):
            if any(spec.name == other.name for other in panels[:position]):
                raise AlreadyInRecord(f"Panel {spec.name!r} is listed twice; give each its own name.")
            session.add(panel_row(row, spec, position))
    return job_record(row)


def _take_from_vehicle(
    session: Session, job: model.Job, name: str, panels: Sequence[PanelSpec]
) -> list[PanelSpec]:
    """Link a new job to its vehicle; the panels with what was known of them at the last visit."""
    car = find_vehicle(session, name)
    job.vehicle_id = car.id
    job.kind, job.vehicle = car.kind, job.vehicle or car.make or car.name
    job.colour = job.colour or car.colour
    job.paint = car.paint if job.paint == "unknown" else job.paint
    last = session.scalars(
        select(model.Job)
        .where(model.Job.vehicle_id == car.id, model.Job.id != job.id)
        .order_by(model.Job.created_at.desc())
    ).first()
    query = select(model.Panel).where(model.Panel.job_id == (last.id if last is not None else ""))
    known = {row.name: row for row in session.scalars(query)}
    return [
        spec
        if spec.name not in known
        else replace(
            spec,
            material=known[spec.name].material if spec.material == "unknown" else spec.material,
            repainted=known[spec.name].repainted if spec.repainted == "unknown" else spec.repainted,
            paint=spec.paint or known[spec.name].paint,
            painted_on=spec.painted_on or known[spec.name].painted_on,
            catches_nail=spec.catches_nail or known[spec.name].catches_nail,
        )
        for spec in panels
    ]


def job_named(store: Store, reference: str) -> JobRecord:
    """Look up one job.

    Raises
    ------
    NotInRecord
        There is none of that reference.
    """
    with store.reading() as session:
        return job_record(find_job(session, reference))


def all_jobs(store: Store) -> tuple[JobRecord, ...]:
    """Every job, the latest first."""
    with store.reading() as session:
        rows = session.scalars(select(model.Job).order_by(model.Job.created_at.desc(), model.Job.id))
        return tuple(job_record(row) for row in rows)


def change_job(
    store: Store, reference: str, *, seen_version: int, target: Target | None = None, **changes: str
) -> JobRecord:
    """Change customer, vehicle, colour, paint or target of a job; earlier targets stay in the record.

    Parameters
    ----------
    seen_version : int
        `JobRecord.version` of the job as it was shown to the person who changes it.

    Raises
    ------
    ChangedMeanwhile
        Somebody else changed the job since; nothing is written.
    JobError
        A value is not one of those known, or a target cannot be right.
    """
    if "paint" in changes:
        one_of(changes["paint"], PAINTS, "paint")
    if target is not None:
        check_target(target)
    with store.writing() as session:
        row = find_job(session, reference, lock=True)
        change_row(row, changes, may=_CHANGEABLE, seen_version=seen_version, what=f"job {reference}")
        if target is not None:
            row.target = changed_target(row.target, target, at=store.clock())
        row.changed_at = store.clock()
    return job_record(row)


def close_job(store: Store, job_id: str, *, closed: bool) -> None:
    """Close a job, or open it again; nothing of it changes."""
    with store.writing() as session:
        session.get_one(model.Job, job_id).closed_at = store.clock() if closed else None


def closed_jobs(store: Store) -> frozenset[str]:
    """Identities of the jobs that are closed."""
    with store.reading() as session:
        return frozenset(session.scalars(select(model.Job.id).where(model.Job.closed_at.is_not(None))))


def sorted_jobs(jobs: Sequence[JobRecord], *, words: str, order: str) -> list[JobRecord]:
    """Jobs that hold every word that is looked for, in that order."""
    wanted = words.casefold().split()
    key, backwards = ORDERS[order]
    found = [job for job in jobs if all(word in _text(job) for word in wanted)]
    return sorted(found, key=key, reverse=backwards)


def free_reference(taken: Sequence[str], today: date) -> str:
    """A reference that no job has: the day and a number.

    Examples
    --------
    >>> free_reference(["2026-05-12/1"], date(2026, 5, 12))
    '2026-05-12/2'
    """
    number = next(n for n in range(1, len(taken) + 2) if f"{today}/{n}" not in taken)
    return f"{today}/{number}"


def _text(job: JobRecord) -> str:
    parts = (job.reference, job.vehicle, job.colour, job.kind, job.customer, job.created_at[:10])
    return " ".join(parts).casefold()
