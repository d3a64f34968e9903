"""What one photograph tells of its lamp, exposure, focus and paint, to hold against another one."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from defectmap.comparison import tuning
from defectmap.comparison.averaged import small_sheet
from defectmap.comparison.outline import outline
from defectmap.comparison.processing_traces import Processing, processing_of
from defectmap.comparison.view import PanelView, detail, sheet_view
from defectmap.panel.measurement import PanelMeasurement, PhotoFacts
from defectmap.panel.photo.colour import linear_table
from defectmap.panel.photo.photograph import Photo


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Evidence:
    """Figures of one photograph that the rules of `defectmap.comparison.comparable` look at."""

    facts: PhotoFacts
    calibrated: bool
    px_per_mm: float
    hotspot: tuple[float, float]  # row, column, px
    radius_mm: float
    lamps: int
    haze: float
    limit_um: float  # faintest equivalent width that half of the zone shows; NaN where not known
    processing: Processing
    warned: tuple[str, ...]  # codes of the photograph's own warnings
    off_round: float  # share of bright marks that do not run round the lamp; NaN where there are few
    area_cm2: float
    halo_mm: NDArray[np.float64]  # (HALO_RINGS,) middles of the rings
    halo_log2: NDArray[np.float64]  # median light of each ring; NaN where clipped or out of the zone
    body_rgb: NDArray[np.float64]  # (3,) linear, outermost rings
    outline: NDArray[
        np.float64
    ]  # how the hotspot departs from an ellipse, see `defectmap.comparison.outline`
    view: PanelView
    fingerprint: NDArray[np.float32]  # fine detail on a grid of hotspot radii, for the same picture again


def evidence(photo: Photo, measured: PanelMeasurement, *, cells_per_mm: float) -> Evidence:
    """Collect what a comparison needs of one photograph; the photograph itself can then be let go.

    Parameters
    ----------
    photo : Photo
        Pixels.
    measured : PanelMeasurement
        What was measured in it.
    cells_per_mm : float
        Grid on which the pair is laid, see `defectmap.comparison.view`.
    """
    radius = measured.hotspot.radius_px
    clipped = photo.clipped  # reads the whole picture
    halo_px, halo_log2, body_rgb = _halo(photo, measured, clipped)
    hotspot = measured.hotspot
    scale, fingerprint_scale = cells_per_mm / measured.scale.px_per_mm, tuning.CELLS_PER_RADIUS / radius
    sheet = small_sheet(
        photo.luminance, clipped, measured.zone, hotspot=hotspot, scale=max(scale, fingerprint_scale)
    )
    view = sheet_view(sheet, measured.marks, hotspot=hotspot, scale=scale, cells_per_mm=cells_per_mm)
    whole = detail(sheet, scale=fingerprint_scale)
    window = slice(
        tuning.HALF_CELLS - tuning.FINGERPRINT_HALF, tuning.HALF_CELLS + tuning.FINGERPRINT_HALF + 1
    )
    return Evidence(
        facts=measured.photo,
        calibrated=measured.scale.calibrated,
        px_per_mm=measured.scale.px_per_mm,
        hotspot=(hotspot.row, hotspot.column),
        radius_mm=radius / measured.scale.px_per_mm,
        lamps=measured.hotspot.lamps,
        haze=measured.haze,
        limit_um=measured.detection_limit.equivalent_width_um,
        processing=processing_of(photo.luminance, measured),
        warned=tuple(one.code for one in measured.warnings),
        off_round=off_round(measured),
        area_cm2=measured.area_cm2,
        halo_mm=halo_px / measured.scale.px_per_mm,
        halo_log2=halo_log2,
        body_rgb=body_rgb,
        outline=outline(sheet, radius_px=radius),
        view=view,
        fingerprint=whole[window, window],
    )


def off_round(measured: PanelMeasurement) -> float:
    """Share of the length of bright marks that does not run round the lamp, as lit grooves have to.

    Rendered panels 0 to 0.05; lines of any direction 0.67.
    """
    bright = [mark for mark in measured.marks if mark.polarity == "bright" and len(mark.points) > 2]
    if len(bright) < tuning.ROUND_MARKS:
        return math.nan
    ways = np.array([mark.points[-1] - mark.points[0] for mark in bright])
    out = np.array([mark.points.mean(axis=0) for mark in bright])
    out -= [measured.hotspot.row, measured.hotspot.column]
    reach = np.linalg.norm(ways, axis=1) * np.linalg.norm(out, axis=1)
    slant = np.abs((ways * out).sum(axis=1)) / np.maximum(reach, 1e-9)
    length = np.array([mark.length_mm for mark in bright])
    return float(length[slant > math.sin(math.radians(tuning.ROUND_DEG))].sum() / length.sum())


def _halo(
    photo: Photo, measured: PanelMeasurement, clipped: NDArray[np.bool_]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Middles of rings in px, log2 of their median light, and the paint's linear colour far out."""
    hotspot, step = measured.hotspot, max(1, round(measured.hotspot.radius_px / tuning.STEPS_PER_RADIUS))
    edges = np.linspace(tuning.HALO_FROM, tuning.HALO_REACH, tuning.HALO_RINGS + 1) * hotspot.radius_px
    zone = measured.zone[::step, ::step]
    rows, columns = (np.arange(side, dtype=np.float32) * step for side in zone.shape)
    radius = np.hypot((rows - np.float32(hotspot.row))[:, None], columns - np.float32(hotspot.column))[zone]
    ring = np.floor((radius - edges[0]) / (edges[1] - edges[0]))
    order = np.argsort(
        np.clip(ring, -1, tuning.HALO_RINGS).astype(np.int8), kind="stable"
    )  # bytes: a counting sort
    ends = np.searchsorted(ring[order], np.arange(tuning.HALO_RINGS + 1))
    light = photo.luminance[::step, ::step][zone][order]
    unknown = clipped[::step, ::step][zone][order]
    levels = np.full(tuning.HALO_RINGS, np.nan)
    for number, inside in enumerate(map(slice, ends[:-1], ends[1:])):
        if (
            inside.stop - inside.start >= tuning.RING_LEAST_PX
            and unknown[inside].mean() < tuning.RING_MOST_CLIPPED
        ):
            levels[number] = math.log2(max(float(np.median(light[inside])), 1e-5))
    held = np.flatnonzero(np.isfinite(levels))
    body = [
        order[ends[ring] : ends[ring + 1]] for ring in held[-max(1, round(tuning.FAR_SHARE * len(held))) :]
    ]
    far = np.flatnonzero(zone)[np.concatenate([*body, np.zeros(0, np.intp)])]
    colour = (
        photo.rgb[::step, ::step][np.unravel_index(far, zone.shape)] if len(far) else np.zeros((1, 3), int)
    )
    return (edges[1:] + edges[:-1]) / 2, levels, linear_table(255)[colour].mean(axis=0, dtype=np.float64)
