"""Warnings and refusals that rest on the whole measurement: focus, exposure, where the hotspot sits."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from defectmap.errors import NoHotspot, UnmeasurableLight
from defectmap.panel import tuning
from defectmap.panel.background import Background, background
from defectmap.panel.marks import Findings, find_marks
from defectmap.panel.measurement import Hotspot, Mark
from defectmap.panel.paths import polyline_length_px
from defectmap.words.photo_words import told
from defectmap.words.remark import Remark


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
    marks = [m for m in marks if m.contrast_to_noise >= tuning.SURE_CONTRAST]
    fine = sum(polyline_length_px(m.points) for m in marks) / scale
    width = soft_px(marks, px_per_mm)
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
    long_lines = [m for m in coarse if m.length_mm >= tuning.COARSE_LONG_MM]
    length = sum(
        m.length_mm
        for m in long_lines
        if wander_mm(m.points * (tuning.COARSE_SHRINK / scale)) <= tuning.WANDER_MM
    )
    most = tuning.STEADY_SHARE * sum(m.length_mm for m in long_lines)
    if length >= max(tuning.COARSE_TOTAL_MM, most) and fine < tuning.SHARP_SHARE * length:
        raise UnmeasurableLight(told(Remark(code="blurred", values={"name": name})))


def refuse_no_panel(found: Findings, *, name: str) -> None:
    """Refuse what is no paint under a lamp: its bright lines run in every direction.

    Raises
    ------
    NoHotspot
        Many lines, most of which no lamp here could light.
    """
    share = found.round_share
    crowded = found.texture_px > tuning.MOST_TEXTURE * np.count_nonzero(found.zone)
    if crowded or (share is not None and share < tuning.LEAST_ROUND_SHARE):
        raise NoHotspot(told(Remark(code="no-panel", values={"name": name})))


def refuse_no_zone(
    found: Findings, lit: NDArray[np.bool_], back: Background, *, scale: float, gain: float, name: str
) -> None:
    """Refuse a photograph that could not show a standard mark anywhere to speak of.

    Raises
    ------
    UnmeasurableLight
        With the reason that weighs most.
    """
    if np.count_nonzero(found.zone) < tuning.LEAST_ZONE * found.zone.size:
        cause = zone_cause(found, lit, back, scale=scale, gain=gain)
        raise UnmeasurableLight(told(Remark(code="no-zone", values={"name": name, "cause": cause})))


def zone_cause(
    found: Findings, lit: NDArray[np.bool_], back: Background, *, scale: float, gain: float
) -> str:
    """What keeps most of the picture from being counted: a key of `words.photo_words.CAUSES`."""
    step = back.block_px
    rows, columns = back.blocks.shape
    counted, open_ = (mask[::step, ::step][:rows, :columns] for mask in (found.zone, lit))
    hidden = open_ & ~counted
    if not hidden.any() or (~open_).sum() > hidden.sum():
        return "bright"
    if (
        scale < tuning.FAR_PX_PER_MM
        and np.median(found.faintest.blocks[hidden]) * scale / tuning.TYPICAL_PX_PER_MM < tuning.ZONE_UM
    ):
        return "far"
    if np.median(back.blocks[hidden]) < tuning.DARK_PAINT and gain < tuning.LOW_GAIN:
        return "dark"
    return "sparkle" if np.median(found.grain.blocks[hidden]) > tuning.ROUGH_GRAIN else "noisy"


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


def cautions(
    found: Findings,
    lit: NDArray[np.bool_],
    hotspot: Hotspot,
    back: Background,
    *,
    scale: float,
    px_per_mm: float,
    gain: float,
) -> list[Remark]:
    """One remark for each thing that makes the figures less sure.

    Parameters
    ----------
    found, lit, hotspot, back
        Of the measurement.
    scale : float
        Pixels a millimetre, a typical figure where it is unknown.
    gain : float
        See `noise.noise_gain`.
    """
    said = []
    clear = [m for m in found.marks if m.contrast_to_noise >= tuning.SURE_CONTRAST]
    width, peak = soft_px(clear, px_per_mm), float(back.blocks.max())
    lines_mm = sum(polyline_length_px(m.points) for m in clear) / scale
    if width > tuning.SOFT_PX and lines_mm >= tuning.LINES_TO_JUDGE_MM:
        said.append(Remark(code="soft", values={"width_px": width}))
    if peak < tuning.SATURATED:
        said.append(Remark(code="underexposed", values={"peak": peak}))
    height, wide = found.zone.shape
    share = np.count_nonzero(found.zone) / found.zone.size
    cause = zone_cause(found, lit, back, scale=scale, gain=gain)
    inside = found.zone[:: back.block_px, :: back.block_px][: back.blocks.shape[0], : back.blocks.shape[1]]
    faintest = float(np.median(found.faintest.blocks[inside])) if inside.any() else 0.0
    if share < tuning.SMALL_ZONE:
        said.append(Remark(code="small-zone", values={"share": share, "cause": cause}))
    elif faintest > tuning.STANDARD_UM:
        cause = "sparkle" if np.median(found.grain.blocks[inside]) > tuning.ROUGH_GRAIN else "noisy"
        said.append(
            Remark(code="noisy", values={"um": faintest, "standard_um": tuning.STANDARD_UM, "cause": cause})
        )
    aside = np.hypot(hotspot.row - height / 2, hotspot.column - wide / 2) / min(height, wide)
    if aside > tuning.OFF_CENTRE:
        said.append(Remark(code="off-centre"))
    if found.lamps > 1 or hotspot.lamps == 2:  # a cluster of LEDs has more
        said.append(Remark(code="second-lamp"))
    if found.round_share is not None and found.round_share < tuning.ROUND_SHARE:
        said.append(Remark(code="lines-not-round-the-lamp"))
    if found.texture_px:
        said.append(Remark(code="texture-left-out", values={"area_cm2": found.texture_px / scale**2 / 100}))
    return said
