"""Vehicles over their lives; whose they are is kept apart, and forgotten on request."""

from __future__ import annotations

from dataclasses import asdict

from sqlalchemy import delete, select, update
from sqlalchemy.orm import Session

from defectmap.errors import AlreadyInRecord
from defectmap.record import logbook, model
from defectmap.record.rows import (
    change_row,
    checked_name,
    copied,
    find_job,
    find_vehicle,
    job_record,
    new_id,
    one_of,
)
from defectmap.record.store import Store
from defectmap.trade.facts import JobRecord, KeeperRecord, VehicleRecord
from defectmap.trade.surface import PAINTS

_CHANGEABLE = {"name", "kind", "make", "colour", "paint"}


def add_vehicle(
    store: Store, name: str, *, kind: str = "car", make: str = "", colour: str = "", paint: str = "unknown"
) -> VehicleRecord:
    """Take a vehicle into the record, by whatever name the shop uses.

    Raises
    ------
    AlreadyInRecord
        The name is taken.
    """
    one_of(paint, PAINTS, "paint")
    row = model.Vehicle(
        id=new_id(),
        name=checked_name(name, "vehicle"),
        kind=kind,
        make=make,
        colour=colour,
        paint=paint,
        created_at=store.clock(),
        version=1,
    )
    with store.writing() as session:
        _refuse_taken(session, row.name)
        session.add(row)
    return copied(VehicleRecord, row)


def all_vehicles(store: Store) -> tuple[VehicleRecord, ...]:
    """Every vehicle, by name."""
    with store.reading() as session:
        rows = session.scalars(select(model.Vehicle).order_by(model.Vehicle.name))
        return tuple(copied(VehicleRecord, row) for row in rows)


def vehicle_named(store: Store, name: str) -> VehicleRecord:
    """Look up one vehicle.

    Raises
    ------
    NotInRecord
        There is none of that name.
    """
    with store.reading() as session:
        return copied(VehicleRecord, find_vehicle(session, name))


def vehicle_of(store: Store, job: JobRecord) -> VehicleRecord | None:
    """The vehicle of a job, where one is on record."""
    if job.vehicle_id is None:
        return None
    with store.reading() as session:
        return copied(VehicleRecord, session.get_one(model.Vehicle, job.vehicle_id))


def change_vehicle(store: Store, vehicle: str, *, seen_version: int, **changes: str) -> VehicleRecord:
    """Change what is known of a vehicle; its jobs keep what they were made with.

    Raises
    ------
    ChangedMeanwhile
        Somebody else changed it since.
    """
    if "paint" in changes:
        one_of(changes["paint"], PAINTS, "paint")
    with store.writing() as session:
        row = find_vehicle(session, vehicle)
        if changes.get("name", row.name) != row.name:
            changes["name"] = checked_name(changes["name"], "vehicle")
            _refuse_taken(session, changes["name"])
        change_row(row, changes, may=_CHANGEABLE, seen_version=seen_version, what=vehicle)
    return copied(VehicleRecord, row)


def jobs_of(store: Store, vehicle: str) -> tuple[JobRecord, ...]:
    """The jobs of a vehicle, oldest first."""
    with store.reading() as session:
        row = find_vehicle(session, vehicle)
        query = select(model.Job).where(model.Job.vehicle_id == row.id).order_by(model.Job.created_at)
        return tuple(job_record(job) for job in session.scalars(query))


def put_keeper(store: Store, vehicle: str, **given: str) -> KeeperRecord:
    """Keep whose vehicle it is: name, contact, plate; what is not given stays."""
    with store.writing() as session:
        row = find_vehicle(session, vehicle)
        kept = session.get(model.Keeper, row.id)
        known = asdict(KeeperRecord()) if kept is None else asdict(copied(KeeperRecord, kept))
        session.merge(model.Keeper(vehicle_id=row.id, **{**known, **given}))
    return KeeperRecord(**{**known, **given})


def keeper_of(store: Store, vehicle: str) -> KeeperRecord | None:
    """Whose vehicle it is; None where nothing is kept, or it was forgotten."""
    with store.reading() as session:
        row = session.get(model.Keeper, find_vehicle(session, vehicle).id)
        return None if row is None else copied(KeeperRecord, row)


def forget_keeper(store: Store, vehicle: str) -> int:
    """Delete whose vehicle it is, with all that hangs on it; photographs, figures and steps stay.

    Gone are the keeper, every signature of its jobs, and the reference to the customer in them.

    Returns
    -------
    int
        How many jobs lost a reference or a signature.
    """
    with store.writing() as session:
        row = find_vehicle(session, vehicle)
        jobs = session.scalars(select(model.Job.id).where(model.Job.vehicle_id == row.id)).all()
        session.execute(delete(model.Keeper).where(model.Keeper.vehicle_id == row.id))
        session.execute(delete(logbook.Signature).where(logbook.Signature.job_id.in_(jobs)))
        session.execute(
            update(model.Job)
            .where(model.Job.id.in_(jobs))
            .values(customer="", changed_at=store.clock(), version=model.Job.version + 1)
        )
    return len(jobs)


def attach(store: Store, reference: str, vehicle: str) -> None:
    """Say that a job is one of this vehicle."""
    with store.writing() as session:
        job = find_job(session, reference, lock=True)
        job.vehicle_id = find_vehicle(session, vehicle).id
        job.version += 1
        job.changed_at = store.clock()


def _refuse_taken(session: Session, name: str) -> None:
    if session.scalar(select(model.Vehicle.id).where(model.Vehicle.name == name)):
        raise AlreadyInRecord(f"There is a vehicle {name!r} already; choose another name.")
