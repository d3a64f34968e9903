"""One photograph, from its bytes to its record and pictures: the same work here, in a pool, or on a cluster.

Nothing is written here: a worker may sit on another machine. What it hands back is small beside a photograph.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from defectmap.errors import PhotoError
from defectmap.film.looking import FilmProgress
from defectmap.film.reading import is_film
from defectmap.panel.codec import Record, measurement_record, refusal_record, zone_png
from defectmap.panel.measure import measure
from defectmap.panel.measurement import PanelMeasurement
from defectmap.panel.photo import photograph as photo
from defectmap.panel.photo.head import read_file
from defectmap.pictures.files import picture_file
from defectmap.pictures.overlay import draw_overlay

KILLED = "the measuring process died over this file; it is damaged or does not fit in memory"


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """One photograph to be measured, and what is wanted of it."""

    name: str
    source: Path | bytes
    px_per_mm: float | None = None
    field_width_mm: float | None = None
    zone: str | None = None  # name of the mask in the record, where a mask is wanted
    overlay: str | None = None  # ending of the overlay, where one is wanted
    series: tuple[Path, ...] = ()  # photographs with the lamp moved, to be measured as one
    progress: FilmProgress | None = None  # told how far a film is; only in this process


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """One photograph, measured or refused; `fault` where the program itself failed over it."""

    record: Record
    measurement: PanelMeasurement | None = (
        None  # its zone left out, so that a folder does not fill the memory
    )
    zone_png: bytes | None = None
    overlay: bytes | None = None
    fault: str | None = None


def do_work(work: Work) -> Done:
    """Measure one photograph; a refusal is a result, not an error."""
    if work.series or (isinstance(work.source, Path) and is_film(work.source)):
        return _do_film(work)
    data: bytes | None = None
    try:
        data, _ = read_file(work.source, name=work.name)
        shot = photo.load(data, name=work.name)
        measured = measure(shot, px_per_mm=work.px_per_mm, field_width_mm=work.field_width_mm)
    except PhotoError as error:
        return Done(record=refusal_record(work.name, str(error), data=data))
    return _done(work, measured, shot.rgb)


def _do_film(work: Work) -> Done:
    """Measure a film, or photographs with the lamp moved, as one."""
    from defectmap.film.measure_film import measure_film

    source = work.series or work.source
    try:
        film = measure_film(
            source,  # type: ignore[arg-type]  # bytes are no film, see `do_work`
            px_per_mm=work.px_per_mm,
            field_width_mm=work.field_width_mm,
            progress=work.progress,
        )
    except PhotoError as error:
        return Done(record=refusal_record(work.name, str(error)))
    return _done(work, film.panel, film.fused_rgb)


def _done(work: Work, measured: PanelMeasurement, rgb: NDArray[np.uint8]) -> Done:
    """What is handed back of a measurement and the picture that its marks lie on."""
    return Done(
        record=measurement_record(measured, mask_png=work.zone),
        measurement=dataclasses.replace(measured, zone=np.empty((0, 0), np.bool_)),
        zone_png=zone_png(measured.zone) if work.zone else None,
        overlay=overlay_picture(rgb, measured, work.overlay) if work.overlay else None,
    )


def do_work_alone(work: Work) -> Done:
    """Like `do_work` among many: a fault of ours in one photograph must not cost the other thousand."""
    try:
        return do_work(work)
    except Exception as error:
        return failed(work, f"unexpected {type(error).__name__}: {error}; please report this")


def failed(work: Work, why: str) -> Done:
    """The result of a photograph over which the program failed."""
    return Done(record=refusal_record(work.name, f"{work.name}: {why}"), fault=why)


def overlay_picture(rgb: NDArray[np.uint8], measured: PanelMeasurement, ending: str) -> bytes:
    """The photograph with its marks, as PNG or JPEG by the ending."""
    drawn = draw_overlay(rgb, measured)
    if ending.lower() == ".png":
        return picture_file(drawn, "PNG")
    # Full colour resolution: JPEG's usual halving turns thin coloured lines grey.
    return picture_file(drawn, "JPEG", quality=88, subsampling=0)
