"""Photographs and films into a job: one at a time and for good, each at its panel, spot and stage."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from defectmap.errors import AlreadyInRecord, JobError, PhotoError
from defectmap.film.container import is_film_file, read_film_head
from defectmap.panel.photo.head import read_file, read_head
from defectmap.record import model
from defectmap.record.history import load_histories
from defectmap.record.originals import Kept
from defectmap.record.rows import (
    find_entry,
    find_job,
    find_panel,
    new_id,
    photograph_record,
    spot_of,
    stored_gates,
)
from defectmap.record.store import Store
from defectmap.trade.facts import PhotographRecord
from defectmap.trade.stages import gates_for_stage, stage_named

MAX_SHOWN_NAME = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a photograph belongs, and its scale as far as it was typed."""

    panel: str
    stage: str
    spot: str = "1"
    px_per_mm: float | None = None
    field_width_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Added:
    """A photograph in the job; not `new` where the same one stood there already."""

    photograph: PhotographRecord
    new: bool


def add_photograph(
    store: Store, reference: str, file: Path, place: Place, *, name: str | None = None
) -> Added:
    """Keep a photograph unchanged and put it into a job.

    Adding the same photograph to the same place again changes nothing, so an interrupted run is simply
    repeated.

    Parameters
    ----------
    file : Path
        The photograph; it is only read.
    place : Place
        Panel, stage and spot (a new spot is created).
    name : str, optional
        Name to show; the file's name if not given.

    Raises
    ------
    AlreadyInRecord
        The same photograph stands at another place of this job.
    BadPhotographFile, OriginalDamaged
        It cannot be kept; see `Originals.keep`.
    NotInRecord
        There is no such job or panel.
    """
    stage = stage_named(place.stage)
    checked_scale(place.px_per_mm, place.field_width_mm)
    with store.reading() as session:  # before copying megabytes: does the place exist?
        find_panel(session, find_job(session, reference), place.panel)
    film = is_film_file(file)
    taken_at = film_time(file) if film else camera_time(file)
    name = name or file.name
    kept = store.originals.keep(file, name=name)
    with store.writing() as session:
        job = find_job(session, reference, lock=True)
        panel = find_panel(session, job, place.panel)
        spot = spot_of(session, panel, place.spot)
        original_row(session, kept, store.clock())
        there = session.scalars(
            select(model.Photograph).where(
                model.Photograph.job_id == job.id, model.Photograph.sha256 == kept.sha256
            )
        ).one_or_none()
        if there is not None and there.set_aside is None:
            _same_place(session, there, spot, stage, name)
            return Added(photograph=photograph_record(there, panel=panel.name, spot=spot.name), new=False)
        (history,) = load_histories(session, [panel])
        gates = gates_for_stage(history, stage, spot=spot.name)
        row = there or model.Photograph(id=new_id(), job_id=job.id, sha256=kept.sha256)
        row.spot_id, row.stage, row.name = spot.id, stage, _shown_name(name)
        row.taken_at, row.added_at = taken_at, store.clock()
        row.px_per_mm, row.field_width_mm = place.px_per_mm, place.field_width_mm
        row.warnings = stored_gates(gates)
        row.set_aside, row.film = None, film
        session.add(row)
    return Added(photograph=photograph_record(row, panel=panel.name, spot=spot.name), new=True)


def photographs_of(store: Store, reference: str, *, panel: str | None = None) -> tuple[PhotographRecord, ...]:
    """The photographs of a job, or of one of its panels, by panel, spot and time."""
    with store.reading() as session:
        job = find_job(session, reference)
        query = (
            select(model.Photograph, model.Panel.name, model.Spot.name)
            .join(model.Spot, model.Photograph.spot_id == model.Spot.id)
            .join(model.Panel, model.Spot.panel_id == model.Panel.id)
            .where(model.Photograph.job_id == job.id, model.Photograph.set_aside.is_(None))
            .order_by(model.Panel.position, model.Spot.name, model.Photograph.added_at)
        )
        if panel is not None:
            query = query.where(model.Panel.name == panel)
        return tuple(photograph_record(row, panel=on, spot=spot) for row, on, spot in session.execute(query))


def camera_time(file: Path | bytes) -> str | None:
    """When the camera says the photograph was taken, in UTC; None where it does not say.

    A camera that gives no time zone is taken to keep this computer's.
    """
    try:
        _, exif = read_head(*read_file(file))
        if exif.taken is None:
            return None
        taken = datetime.fromisoformat(exif.taken + (exif.taken_offset or ""))
        return taken.astimezone(tz=UTC).isoformat(timespec="microseconds")
    except (PhotoError, OverflowError, ValueError, OSError):
        # Whether the file can be measured is for the measuring to say; here only its clock is read. The first
        # days of the calendar have no UTC.
        return None


def film_time(file: Path) -> str | None:
    """When a film was taken, in UTC, by its header; None where it does not say."""
    try:
        return read_film_head(file).taken
    except PhotoError:
        return None  # as for photographs: whether it can be measured is for the measuring to say


def _shown_name(name: str) -> str:
    """The name as it can be stored and shown anywhere; a camera's or a disk's may hold anything."""
    return "".join(c if c.isprintable() else "?" for c in name)[-MAX_SHOWN_NAME:]


def checked_scale(px_per_mm: float | None, field_width_mm: float | None) -> None:
    """Refuse a scale that cannot be right, or two of them."""
    for value, what in ((px_per_mm, "px per mm"), (field_width_mm, "field width in mm")):
        if value is not None and not 0 < value < 100_000:
            raise JobError(f"A {what} of {value:g} cannot be right; give a number above 0, or leave it out.")
    if px_per_mm is not None and field_width_mm is not None:
        raise JobError("Give px per mm or the field width, not both.")


def rescale(
    store: Store,
    reference: str,
    photograph_id: str,
    *,
    px_per_mm: float | None = None,
    field_width_mm: float | None = None,
) -> None:
    """Give a photograph another scale. Its earlier results stay in the record and no longer count.

    It is unmeasured from then on, unless that scale was measured before; what was corrected by hand is kept.

    Parameters
    ----------
    px_per_mm, field_width_mm : float, optional
        One of them; neither leaves the scale to the printed card.

    Raises
    ------
    NotInRecord
        The job has no such photograph.
    JobError
        A figure cannot be right, or both are given.
    """
    checked_scale(px_per_mm, field_width_mm)
    with store.writing() as session:
        job = find_job(session, reference, lock=True)
        row = find_entry(session, model.Photograph, photograph_id, job, "photograph")
        row.px_per_mm, row.field_width_mm = px_per_mm, field_width_mm


def original_row(session: Session, kept: Kept, now: str) -> None:
    """Note a kept original, unless it is noted already."""
    if session.get(model.Original, kept.sha256) is not None:
        return
    try:
        with session.begin_nested():
            session.add(model.Original(sha256=kept.sha256, size_bytes=kept.size_bytes, kept_at=now))
    except IntegrityError:
        pass  # another job kept the same file at the same moment


def _same_place(session: Session, there: model.Photograph, spot: model.Spot, stage: str, name: str) -> None:
    if there.spot_id == spot.id and there.stage == stage:
        return
    other_spot = session.get_one(model.Spot, there.spot_id)
    other_panel = session.get_one(model.Panel, other_spot.panel_id)
    raise AlreadyInRecord(
        f"{name} is the same photograph as {there.name}, which stands at {other_panel.name}, spot "
        f"{other_spot.name}, {there.stage}; set that one aside first if it is in the wrong place."
    )
