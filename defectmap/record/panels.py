"""Panels of a job: create, change, look up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields

from sqlalchemy import func, select

from defectmap.errors import AlreadyInRecord, JobError
from defectmap.record import model
from defectmap.record.rows import (
    change_row,
    checked_day,
    checked_name,
    copied,
    find_job,
    find_panel,
    new_id,
    one_of,
    panels_in,
)
from defectmap.record.store import Store
from defectmap.trade.facts import PanelRecord
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
        row = panel_row(job, spec, -1 if last is None else last)
        row.position += 1
        session.add(row)
    return copied(PanelRecord, row)


def change_panel(
    store: Store, reference: str, name: str, *, seen_version: int, **changes: str | float | None
) -> PanelRecord:
    """Change what is known of a panel: any field of `PanelSpec` but its name; see `change_job`."""
    may = {field.name for field in fields(PanelSpec)} - {"name"}
    with store.writing() as session:
        row = find_panel(session, find_job(session, reference, lock=True), name)
        change_row(row, changes, may=may, seen_version=seen_version, what=f"panel {name}")
        _check_panel(row)
    return copied(PanelRecord, row)


def panels_of(store: Store, reference: str) -> tuple[PanelRecord, ...]:
    """The panels of a job, in their order."""
    with store.reading() as session:
        rows = panels_in(session, find_job(session, reference))
        return tuple(copied(PanelRecord, row) for row in rows)


def panel_row(job: model.Job, spec: PanelSpec, position: int) -> model.Panel:
    """A checked row for a new panel of a job."""
    given = {**asdict(spec), "name": checked_name(spec.name, "panel"), "area_m2": float(spec.area_m2)}
    row = model.Panel(id=new_id(), job_id=job.id, position=position, version=1, **given)
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
