"""Whether a picture is sharp enough: judged by its lines, or by the edges of the printed card in it.

Paint without marks has nothing to judge by, and polish cannot be told from blur; then that is said.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from defectmap.errors import UnmeasurableLight
from defectmap.panel import tuning
from defectmap.panel.background import background
from defectmap.panel.marks import find_marks
from defectmap.panel.measurement import Hotspot, Mark
from defectmap.panel.paths import polyline_length_px
from defectmap.words.photo_words import told
from defectmap.words.remark import Remark

SCHARR_GAIN = 32  # of a slope of one a pixel: 3 + 10 + 3 on either side


def refuse_blur(
    luminance: NDArray[np.float32],
    marks: Sequence[Mark],
    hotspot: Hotspot,
    zone: NDArray[np.bool_],
    *,
    gain: float,
    scale: float,
    px_per_mm: float,
    name: str,
) -> None:
    """Refuse a photograph whose lines are only to be seen on a much smaller copy.

    A clean panel has no lines at any size and passes, see `focus_remarks`. The comparison of two photographs
    checks their focus by other means.

    Parameters
    ----------
    luminance : (H, W) float32 ndarray
    marks : sequence of Mark
        Found at full size.
    zone : (H, W) bool ndarray
    gain, scale : float
        See `marks.find_marks`; pixels a millimetre, a typical figure where it is unknown.
    px_per_mm : float
        What the widths of `marks` were divided by.
    name : str
        Of the photograph.

    Raises
    ------
    UnmeasurableLight
        Too blurred.
    """
    clear, fine = _clear(marks, scale)
    width = soft_px(clear, px_per_mm)
    if fine >= tuning.LINES_TO_JUDGE_MM and width > tuning.BLURRED_PX:
        raise UnmeasurableLight(told(Remark(code="blurred", values={"name": name})))
    if fine > tuning.FOCUSED_MM and 0 < width < tuning.SOFT_PX:
        return
    size = (luminance.shape[1] // tuning.COARSE_SHRINK, luminance.shape[0] // tuning.COARSE_SHRINK)
    small = np.asarray(cv2.resize(luminance, size, interpolation=cv2.INTER_AREA), np.float32)
    inside = cv2.resize(zone.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
    there = Hotspot(
        row=hotspot.row / tuning.COARSE_SHRINK,
        column=hotspot.column / tuning.COARSE_SHRINK,
        radius_px=hotspot.radius_px / tuning.COARSE_SHRINK,
        lamps=hotspot.lamps,
    )
    coarse = find_marks(
        small,
        background(small),
        there,
        inside,
        gain=gain / tuning.COARSE_SHRINK**2,
        px_per_mm=scale / tuning.COARSE_SHRINK,
    ).marks
    # dark ones are ripples of peel as a rule: marks in paint are bright but for those in the halo
    long_lines = [m for m in coarse if m.polarity == "bright" and m.length_mm >= tuning.COARSE_LONG_MM]
    length = sum(
        m.length_mm
        for m in long_lines
        if wander_mm(m.points * (tuning.COARSE_SHRINK / scale)) <= tuning.WANDER_MM
    )
    most = tuning.STEADY_SHARE * sum(m.length_mm for m in long_lines)
    if length >= most and fine < tuning.SHARP_SHARE * length:
        raise UnmeasurableLight(told(Remark(code="blurred", values={"name": name})))


def focus_remarks(
    marks: Sequence[Mark], *, card_edge_px: float | None, scale: float, px_per_mm: float
) -> list[Remark]:
    """What to say of the focus: soft, not to be judged, or nothing.

    Parameters
    ----------
    marks : sequence of Mark
        Every line found.
    card_edge_px : float or None
        See `card_edge_px`.
    scale, px_per_mm : float
        See `refuse_blur`.
    """
    clear, lines_mm = _clear(marks, scale)
    width = soft_px(clear, px_per_mm) if lines_mm >= tuning.LINES_TO_JUDGE_MM else 0.0
    width = width or card_edge_px or 0.0
    if width > tuning.SOFT_PX:
        return [Remark(code="soft", values={"width_px": width})]
    return [] if width else [Remark(code="focus-unjudged")]


def _clear(marks: Sequence[Mark], scale: float) -> tuple[list[Mark], float]:
    """Lines clear enough to have a width, and their length in mm."""
    clear = [m for m in marks if m.contrast_to_noise >= tuning.SURE_CONTRAST]
    return clear, sum(polyline_length_px(m.points) for m in clear) / scale


def card_edge_px(luminance: NDArray[np.float32], card: NDArray[np.float64] | None) -> float | None:
    """Width of the printed card's sharpest edges in px, as steep as they are in their middle.

    A step blurred by a Gaussian of standard deviation s is √(2π) s ≈ 2.5 s wide so; a fine line is 2.35 s at
    half of its height, so that both can be held to the same limits.

    Parameters
    ----------
    luminance : (H, W) float32 ndarray
    card : (N, 2) float64 ndarray or None
        Outline of the card, row and column.

    Returns
    -------
    float or None
        None without a card, or where too little of it shows an edge.
    """
    if card is None:
        return None
    corners = np.round(card[:, ::-1]).astype(np.int32)
    column, row, width, height = cv2.boundingRect(corners)
    left, top = max(column, 0), max(row, 0)
    part = luminance[top : row + height, left : column + width]
    mask = np.zeros(part.shape, np.uint8)
    cv2.fillPoly(mask, [corners - [left, top]], 1)
    inside = cv2.erode(mask, np.ones((tuning.EDGE_MARGIN_PX,) * 2, np.uint8)) > 0
    window = np.ones((tuning.EDGE_WINDOW_PX,) * 2, np.uint8)
    step = cv2.dilate(part, window) - cv2.erode(part, window)
    steep = np.hypot(cv2.Scharr(part, cv2.CV_32F, 1, 0), cv2.Scharr(part, cv2.CV_32F, 0, 1)) / SCHARR_GAIN
    crest = steep >= cv2.dilate(steep, np.ones((tuning.EDGE_CREST_PX,) * 2, np.uint8))
    full = (
        step > tuning.EDGE_STEP * np.quantile(step[inside], tuning.EDGE_FULL_QUANTILE)
        if inside.any()
        else inside
    )
    edges = crest & full & inside
    if edges.sum() < tuning.EDGE_LEAST_POINTS:
        return None
    wide = float(np.median(step[edges] / np.maximum(steep[edges], 1e-6)))
    # the slope is taken over 2 px, which adds a variance of 1/3 px²
    return float(np.sqrt(max(wide**2 - 2 * np.pi / 3, 0.0)))


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
    """Median full width of the marks in px, by length; 0 for a single one."""
    if len(marks) < tuning.FEW_MARKS:
        return 0.0
    widths = np.array([m.width_mm * px_per_mm for m in marks])
    order = np.argsort(widths)
    weight = np.cumsum(np.array([m.length_mm for m in marks])[order])
    return float(widths[order][np.searchsorted(weight, weight[-1] / 2)])
