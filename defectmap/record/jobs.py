"""Jobs and panels: create, change, look up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from defectmap.errors import AlreadyInRecord, ChangedMeanwhile, JobError
from defectmap.record import model
from defectmap.record.agreed import changed_target, check_target, stored_target
from defectmap.record.rows import (
    checked_day,
    checked_name,
    find_job,
    find_panel,
    find_vehicle,
    job_record,
    new_id,
    panel_record,
)
from defectmap.record.store import Store
from defectmap.trade.facts import JobRecord, PanelRecord, Target
from defectmap.trade.surface import PAINTS
from defectmap.trade.table_forms import PanelRow

MATERIALS = ("steel", "aluminium", "plastic", "composite", "unknown")
REPAINTED = ("no", "yes", "unknown")
FREE_PANEL_AREA_M2 = 1.0  # of a panel that is not on the standard list; only serves planning


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelSpec:
    """A panel to be created."""

    name: str
    area_m2: float
    material: str = "unknown"
    repainted: str = "unknown"
    clear_coat_um: float | None = None
    catches_nail: bool = False
    paint: str = ""  # where it differs from the vehicle's
    painted_on: str | None = None  # day of a new paint, ISO 8601


def standard_panels(names: Sequence[str], rows: Sequence[PanelRow]) -> list[PanelSpec]:
    """Panels to be created, with the area and material of the standard ones of that name.

    Parameters
    ----------
    names : sequence of str
        Standard or free names.
    rows : sequence of PanelRow
        Standard panels of that kind of vehicle, from the trade tables.
    """
    known = {row.name: row for row in rows}
    return [
        PanelSpec(name=name, area_m2=known[name].area_m2, material=known[name].material)
        if name in known
        else PanelSpec(name=name, area_m2=FREE_PANEL_AREA_M2)
        for name in names
    ]


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
            session.add(_panel_row(row, spec, position))
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
    unknown = set(changes) - {"customer", "vehicle", "colour", "paint"}
    if unknown:
        raise ValueError(f"cannot change {sorted(unknown)}")
    if "paint" in changes:
        one_of(changes["paint"], PAINTS, "paint")
    if target is not None:
        check_target(target)
    with store.writing() as session:
        row = find_job(session, reference, lock=True)
        _same_version(row.version, seen_version, f"job {reference}")
        for name, value in changes.items():
            setattr(row, name, value)
        if target is not None:
            row.target = changed_target(row.target, target, at=store.clock())
        row.version += 1
        row.changed_at = store.clock()
    return job_record(row)


def add_panel(store: Store, reference: str, spec: PanelSpec) -> PanelRecord:
    """Add a panel to a job.

    Raises
    ------
    AlreadyInRecord
        The job has a panel of that name.
    """
    with store.writing() as session:
        job = find_job(session, reference, lock=True)
        taken = select(model.Panel.id).where(model.Panel.job_id == job.id, model.Panel.name == spec.name)
        if session.scalar(taken):
            raise AlreadyInRecord(f"Job {reference} has a panel {spec.name!r} already; choose another name.")
        last = session.scalar(select(func.max(model.Panel.position)).where(model.Panel.job_id == job.id))
        row = _panel_row(job, spec, -1 if last is None else last)
        row.position += 1
        session.add(row)
    return panel_record(row)


def change_panel(
    store: Store, reference: str, name: str, *, seen_version: int, **changes: str | float | None
) -> PanelRecord:
    """Change what is known of a panel: any field of `PanelSpec` but its name; see `change_job`."""
    unknown = set(changes) - {field.name for field in fields(PanelSpec)} | (set(changes) & {"name"})
    if unknown:
        raise ValueError(f"cannot change {sorted(unknown)}")
    with store.writing() as session:
        row = find_panel(session, find_job(session, reference, lock=True), name)
        _same_version(row.version, seen_version, f"panel {name}")
        for key, value in changes.items():
            setattr(row, key, value)
        _check_panel(row)
        row.version += 1
    return panel_record(row)


def panels_of(store: Store, reference: str) -> tuple[PanelRecord, ...]:
    """The panels of a job, in their order."""
    with store.reading() as session:
        job = find_job(session, reference)
        rows = session.scalars(
            select(model.Panel).where(model.Panel.job_id == job.id).order_by(model.Panel.position)
        )
        return tuple(panel_record(row) for row in rows)


def _panel_row(job: model.Job, spec: PanelSpec, position: int) -> model.Panel:
    row = model.Panel(
        id=new_id(),
        job_id=job.id,
        name=checked_name(spec.name, "panel"),
        position=position,
        material=spec.material,
        area_m2=float(spec.area_m2),
        repainted=spec.repainted,
        clear_coat_um=spec.clear_coat_um,
        catches_nail=spec.catches_nail,
        paint=spec.paint,
        painted_on=spec.painted_on,
        version=1,
    )
    _check_panel(row)
    return row


def _check_panel(row: model.Panel) -> None:
    one_of(row.material, MATERIALS, "material")
    one_of(row.repainted, REPAINTED, "repainted")
    one_of(row.paint, ("", *PAINTS), "paint")
    if row.painted_on is not None:
        row.painted_on = checked_day(row.painted_on)
    if not 0 < row.area_m2 <= 100:
        raise JobError(f"Panel {row.name}: an area of {row.area_m2:g} m² cannot be right; give it in m².")
    if row.clear_coat_um is not None and not 0 < row.clear_coat_um <= 500:
        raise JobError(
            f"Panel {row.name}: a clear coat of {row.clear_coat_um:g} µm cannot be right; give it in µm."
        )


def one_of(value: str, known: tuple[str, ...], what: str) -> None:
    """Refuse a value that is not one of those known.

    Raises
    ------
    JobError
        It is not.
    """
    if value not in known:
        raise JobError(f"{what} {value!r} is not known; use one of: {', '.join(known)}.")


def _same_version(stored: int, seen: int, what: str) -> None:
    if stored != seen:
        raise ChangedMeanwhile(f"Somebody else has just changed {what}; look at it again, then repeat.")
