"""Warnings and refusals that rest on the whole measurement: focus, exposure, where the hotspot sits."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from defectmap.errors import UnmeasurableLight
from defectmap.panel.hotspot import background
from defectmap.panel.marks import Findings, find_marks
from defectmap.panel.measurement import Hotspot, Mark
from defectmap.panel.paths import polyline_length_px

_SOFT_PX = 4.0  # full width of the median mark; a focused phone draws fine marks 2 to 3 px wide
_FEW_MARKS = 5
_COARSE = 4  # lines are sought once more on a copy this many times smaller
_LONG_MM, _TOTAL_MM = 10.0, 40.0  # of lines on the copy before they say anything
# from the parabola through it: a scratch keeps to its curve, a ripple of orange peel does not
_WANDER_MM = 0.05
_STEADY_SHARE = 0.3  # of the long lines must keep to their curve
_SHARP_SHARE = 0.25  # of that length must have been found at full size as well
_OFF_CENTRE = 0.3  # distance of the hotspot from the middle, over the shorter side
_SMALL_ZONE = 0.25
_UNSATURATED = 0.9


def refuse_blur(
    luminance: NDArray[np.float32],
    marks: Sequence[Mark],
    hotspot: Hotspot,
    zone: NDArray[np.bool_],
    *,
    gain: float,
    scale: float,
    name: str,
) -> None:
    """Refuse a photograph whose lines are only to be seen on a much smaller copy.

    A clean panel has no lines at any size and passes: without marks blur cannot be told from polish. The
    comparison of two photographs checks their focus by other means.

    Parameters
    ----------
    luminance : (H, W) float32 ndarray
    marks : sequence of Mark
        Found at full size.
    hotspot : Hotspot
    zone : (H, W) bool ndarray
    gain, scale : float
        See `marks.find_marks`; pixels a millimetre.
    name : str
        Of the photograph.

    Raises
    ------
    UnmeasurableLight
        Too blurred.
    """
    fine = sum(polyline_length_px(m.points) for m in marks) / scale
    if fine > 4 * _TOTAL_MM and soft_px(marks, scale) < _SOFT_PX:
        return
    size = (luminance.shape[1] // _COARSE, luminance.shape[0] // _COARSE)
    small = np.asarray(cv2.resize(luminance, size, interpolation=cv2.INTER_AREA), np.float32)
    inside = cv2.resize(zone.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
    there = Hotspot(
        row=hotspot.row / _COARSE,
        column=hotspot.column / _COARSE,
        radius_px=hotspot.radius_px / _COARSE,
        lamps=hotspot.lamps,
    )
    coarse = find_marks(
        small, background(small), there, inside, gain=gain / _COARSE**2, px_per_mm=scale / _COARSE
    ).marks
    long_lines = [m for m in coarse if m.length_mm >= _LONG_MM]
    length = sum(m.length_mm for m in long_lines if wander_mm(m.points * (_COARSE / scale)) <= _WANDER_MM)
    most = _STEADY_SHARE * sum(m.length_mm for m in long_lines)
    if length >= max(_TOTAL_MM, most) and fine < _SHARP_SHARE * length:
        raise UnmeasurableLight(
            f"{name} is too blurred: its lines are several times wider than marks in focus. Tap to focus on "
            "the paint beside the lamp's reflection, hold still, and retake it."
        )


def wander_mm(line_mm: NDArray[np.float64]) -> float:
    """Root mean square distance of a line from the parabola through it.

    Parameters
    ----------
    line_mm : (N, 2) float64 ndarray
        At even distances along the line.
    """
    along = np.linspace(-1.0, 1.0, len(line_mm))
    design = np.column_stack([np.ones_like(along), along, along**2])
    solution, *_ = np.linalg.lstsq(design, line_mm, rcond=None)
    return float(np.sqrt(((line_mm - design @ solution) ** 2).sum(axis=1).mean()))


def soft_px(marks: Sequence[Mark], px_per_mm: float) -> float:
    """Median full width of the marks in px, by length; 0 for fewer than five marks."""
    if len(marks) < _FEW_MARKS:
        return 0.0
    widths = np.array([m.width_mm * px_per_mm for m in marks])
    order = np.argsort(widths)
    weight = np.cumsum(np.array([m.length_mm for m in marks])[order])
    return float(widths[order][np.searchsorted(weight, weight[-1] / 2)])


def cautions(
    marks: Sequence[Mark],
    found: Findings,
    hotspot: Hotspot,
    zone: NDArray[np.bool_],
    *,
    peak: float,
    px_per_mm: float,
) -> list[str]:
    """One sentence for each thing that makes the figures less sure.

    Parameters
    ----------
    marks, found, hotspot, zone
        Of the measurement.
    peak : float
        Brightest light of the smoothed photograph, linear.
    px_per_mm : float
        Figure that `marks` were divided by.

    Returns
    -------
    list of str
    """
    said = []
    width = soft_px(marks, px_per_mm)
    if width > _SOFT_PX:
        said.append(
            f"Slightly out of focus or shaken: the median mark is {width:.1f} px wide, so the finest are "
            "missed; focus on the paint and hold still."
        )
    if peak < _UNSATURATED:
        said.append(
            f"Underexposed: the lamp's reflection reaches {peak:.0%} of full scale, so faint marks are "
            "missed; expose until it is just white."
        )
    height, wide = zone.shape
    share = float(zone.mean())
    if share < _SMALL_ZONE:
        said.append(
            f"Marks can be counted on only {share:.0%} of the picture; expose less, use a lower ISO, or "
            "hold the lamp farther away."
        )
    aside = np.hypot(hotspot.row - height / 2, hotspot.column - wide / 2) / min(height, wide)
    if aside > _OFF_CENTRE:
        said.append("The lamp's reflection is far from the middle; aim so that paint shows all round it.")
    if not found.lit_like_marks:
        said.append(
            "Many bright lines do not run round the lamp as lit marks do; they may be texture or "
            "reflections, so check the overlay before you trust the density."
        )
    return said
