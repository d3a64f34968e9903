"""Round things that are no marks: dust, and the rings that dried drops leave. They are counted apart."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from defectmap.panel import tuning
from defectmap.panel.background import Background
from defectmap.panel.measurement import Mark, SpotDefect
from defectmap.panel.paths import Path, polyline_length_px


def water_spots(arcs: Sequence[Path], *, scale: float, px_per_mm: float) -> list[SpotDefect]:
    """Rings put together from their arcs.

    Parameters
    ----------
    arcs : sequence of (N, 2) float64 ndarray
        Tightly bent lines, row and column in px.
    scale : float
        Pixels a millimetre, a typical figure where it is unknown.
    px_per_mm : float
        What diameters are divided by.
    """
    circles: list[tuple[NDArray[np.float64], float, float]] = []  # centre, radius, turn in degrees
    for arc in sorted(arcs, key=len, reverse=True):
        centre, radius = fit_circle(arc)
        turn = float(np.rad2deg(polyline_length_px(arc) / max(radius, 1.0)))
        for i, (other, size, seen) in enumerate(circles):
            if np.hypot(*(centre - other)) < tuning.SAME_RING_MM * scale:
                circles[i] = (other, max(size, radius), seen + turn)
                break
        else:
            circles.append((centre, radius, turn))
    return [
        SpotDefect(
            kind="water spot",
            row=float(centre[0]),
            column=float(centre[1]),
            diameter_mm=2 * radius / px_per_mm,
        )
        for centre, radius, turn in circles
        if turn >= tuning.RING_TURN_DEG
    ]


def fit_circle(arc: Path) -> tuple[NDArray[np.float64], float]:
    """Centre and radius of the circle nearest to points, by linear least squares (Kåsa 1976, from memory)."""
    middle = arc.mean(axis=0)
    points = arc - middle
    design = np.column_stack([2 * points, np.ones(len(points))])
    solution, *_ = np.linalg.lstsq(design, (points**2).sum(axis=1), rcond=None)
    return middle + solution[:2], float(np.sqrt(max(solution[2] + (solution[:2] ** 2).sum(), 0.0)))


def dust(
    stable: NDArray[np.float32],
    zone: NDArray[np.bool_],
    *,
    grain: Background,
    lines: Sequence[Path],
    shrink: int,
    scale: float,
    px_per_mm: float,
) -> list[SpotDefect]:
    """Compact points that stand out from the paint and lie on no mark.

    Parameters
    ----------
    stable : (h, w) float32 ndarray
        Light in units of pixel noise, on a copy of the photograph made `shrink` times smaller.
    zone : (H, W) bool ndarray
    grain : Background
        How much the paint ripples of itself, see `grain.grain_factor`.
    lines : sequence of (N, 2) float64 ndarray
        Marks and rings; points beside them are part of them.
    scale, px_per_mm : float
        As in `water_spots`.
    """
    further = max(1, round(scale * tuning.DUST_LEAST_MM / shrink / tuning.DUST_KEPT_PX))
    size = (stable.shape[1] // further, stable.shape[0] // further)
    small = cv2.resize(stable, size, interpolation=cv2.INTER_AREA) if further > 1 else stable
    shrink *= further
    shape = (size[1], size[0])
    # the difference of two blurs passes what is as small as dust and stops the broader ripples of orange peel
    fine, broad = (cv2.GaussianBlur(small, (0, 0), sd_px) for sd_px in tuning.DUST_BLURS_PX)
    out = np.abs(fine - broad)
    free = zone[::shrink, ::shrink][: shape[0], : shape[1]] & ~_near(lines, shrink, scale, shape)
    # ripples of heavy orange peel beside the lamp are as sharp as dust, but there are many of them
    around = cv2.blur(
        np.minimum(out, tuning.DUST_STRONG), (round(tuning.DUST_AROUND_MM * scale / shrink) | 1,) * 2
    )
    above = (
        out
        > np.maximum(tuning.DUST_CONTRAST * np.maximum(grain.full(shape), 1.0), tuning.DUST_ALONE * around)
    ) & free
    count, _, stats, centres = cv2.connectedComponentsWithStats(above.astype(np.uint8))
    found = []
    for i in range(1, count):
        _, _, width, height, area = stats[i]
        diameter = float(np.sqrt(4 * area / np.pi)) * shrink
        if not tuning.DUST_LEAST_MM * scale <= diameter <= tuning.DUST_MOST_MM * scale:
            continue
        if area >= tuning.DUST_ROUND * max(width, height) ** 2:
            column, row = (centres[i] + 0.5) * shrink - 0.5
            found.append(
                SpotDefect(
                    kind="dust", row=float(row), column=float(column), diameter_mm=diameter / px_per_mm
                )
            )
    return found


def _near(lines: Sequence[Path], shrink: int, scale: float, shape: tuple[int, int]) -> NDArray[np.bool_]:
    """Where dust would lie on a line or beside it."""
    mask = np.zeros(shape, np.uint8)
    if not lines:
        return mask > 0
    places = np.round((np.concatenate(lines) + 0.5) / shrink - 0.5).astype(int)
    inside = np.all((places >= 0) & (places < shape), axis=1)
    mask[tuple(places[inside].T)] = 1
    wide = 2 * max(1, round(tuning.DUST_CLEAR_MM * scale / shrink)) + 1
    return np.asarray(cv2.dilate(mask, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (wide, wide)))) > 0


def paths_of(marks: Sequence[Mark], arcs: Sequence[Path]) -> list[Path]:
    """Every line that dust must keep clear of."""
    return [m.points for m in marks] + list(arcs)
