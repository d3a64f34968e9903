"""What a camera or an app did to a photograph after it was taken, as far as the photograph itself shows it.

Three traces are read. Sharpening leaves the light beside a line darker than it is farther out (overshoot).
Noise reduction and heavy compression leave a grain finer than the steps of the file, that hangs together from
pixel to pixel. A copy that a messenger made has lost the camera's notes and is smaller than the other side.
A tone curve shows only between two photographs, in their halos (`defectmap.comparison.halo`).

None of them moves an equivalent width by much, but each by something: `strength_doubt` is what is carried
into the interval, as a standard deviation of ln(W) between the two photographs.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from defectmap.comparison.outcome import Reason
from defectmap.comparison.tuning import (
    COPY_SHARE,
    CROSS_STRENGTH,
    GRAIN_BLOCK_PX,
    GRAIN_LEAST_BLOCKS,
    HAZE_STRENGTH,
    OVERSHOOT_STEP,
    OVERSHOOT_STRENGTH,
    PROFILE_EVERY,
    PROFILE_LEAST_MARKS,
    PROFILE_LEAST_PEAK,
    PROFILE_MOST_MARKS,
    PROFILE_PX,
    PROFILE_STEP_PX,
    SAME_STRENGTH,
    SHARPENED_PX,
    SMOOTH_CODES,
    SMOOTH_CORRELATION,
    SMOOTH_STRENGTH,
    TONE_STRENGTH,
)
from defectmap.panel.measurement import Mark, PanelMeasurement, PhotoFacts

if TYPE_CHECKING:
    from defectmap.comparison.halo import HaloDifference


@dataclass(frozen=True, slots=True, kw_only=True)
class Processing:
    """Traces of processing in one photograph; NaN where there is too little to tell."""

    overshoot: float  # depth of the dark lobe beside bright marks, over their height
    grain_codes: float  # scatter of mark-free blocks in the quietest light, in steps of an 8-bit file
    grain_correlation: float  # of neighbouring pixels in those blocks

    @property
    def smoothed(self) -> bool:
        """Whether the grain is finer than the file's steps and hangs together: denoised or squeezed."""
        return self.grain_codes <= SMOOTH_CODES and self.grain_correlation >= SMOOTH_CORRELATION


def processing_of(luminance: NDArray[np.float32], measured: PanelMeasurement) -> Processing:
    """Look for traces of processing in a photograph.

    Parameters
    ----------
    luminance : (H, W) float32 ndarray
        Linear light, 0 to 1.
    measured : PanelMeasurement
        What was measured in it.

    Returns
    -------
    Processing
    """
    codes, correlation = _grain(luminance, measured)
    return Processing(
        overshoot=_overshoot(luminance, measured.marks), grain_codes=codes, grain_correlation=correlation
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """What the rules need to know of one photograph."""

    name: str  # "before" or "after"
    facts: PhotoFacts
    found: Processing


def processing_reasons(before: Side, after: Side, halo: HaloDifference) -> Iterator[Reason]:
    """What was done to one of two photographs and not to the other, each by its name."""
    step = after.found.overshoot - before.found.overshoot
    if abs(step) >= OVERSHOOT_STEP:
        side = after if step > 0 else before
        yield _reason("sharpened", side, value=abs(step), limit=OVERSHOOT_STEP)
    if before.found.smoothed != after.found.smoothed:
        side = before if before.found.smoothed else after
        yield _reason("smoothed", side, value=side.found.grain_codes, limit=SMOOTH_CODES)
    copied = _copied(before.facts, after.facts)
    if copied:
        yield _reason("smaller copy", before if copied == "before" else after)
    if halo.toned:
        side = after if halo.tone < 1 else before
        yield _reason("tone curve", side, value=min(halo.tone, 1 / halo.tone), limit=1.0)


def strength_doubt(before: Side, after: Side, halo: HaloDifference, *, blur_steps: float = 0.0) -> float:
    """Standard deviation of ln(W, after over before) of one and the same mark, by what was done to both.

    Parameters
    ----------
    before, after : Side
    halo : HaloDifference
        Its `tone` tells how the tone curves differ.
    blur_steps : float, optional
        Difference of ln(share of a line's light that is read), from the widths of the same marks.

    Returns
    -------
    float
    """
    parts = [CROSS_STRENGTH if other_camera(before.facts, after.facts) else SAME_STRENGTH, blur_steps]
    step = abs(after.found.overshoot - before.found.overshoot)
    if step == step:
        parts.append(OVERSHOOT_STRENGTH * step)
    if before.found.smoothed != after.found.smoothed:
        parts.append(SMOOTH_STRENGTH)
    if halo.toned:
        parts.append(TONE_STRENGTH * abs(math.log(halo.tone)))
    elif halo.hazed:
        parts.append(HAZE_STRENGTH * math.log(2) * float(np.median(np.abs(halo.beside_stops))))
    return math.hypot(*parts)


def other_camera(before: PhotoFacts, after: PhotoFacts) -> bool:
    """Whether the files speak of two cameras, or of one at two settings."""
    sizes = [tuple(sorted((one.width_px, one.height_px))) for one in (before, after)]
    named = before.camera is not None and after.camera is not None
    told = [one.iso is not None for one in (before, after)]
    return sizes[0] != sizes[1] or told[0] != told[1] or (named and before.camera != after.camera)


def _copied(before: PhotoFacts, after: PhotoFacts) -> str:
    """Which side is smaller and has lost the camera's notes that the other has; empty if none."""
    pixels = [one.width_px * one.height_px for one in (before, after)]
    bare = [one.iso is None and one.exposure_s is None for one in (before, after)]
    for name, this, other in (("before", 0, 1), ("after", 1, 0)):
        if bare[this] and not bare[other] and pixels[this] < COPY_SHARE * pixels[other]:
            return name
    return ""


def _reason(code: str, side: Side, *, value: float | None = None, limit: float | None = None) -> Reason:
    values = {"side": side.name}
    return Reason(code=code, values=values, topic="processing", verdict="with care", value=value, limit=limit)


def _overshoot(luminance: NDArray[np.float32], marks: Sequence[Mark]) -> float:
    """Median over bright marks of how far the light dips beside them, as a share of their height."""
    from scipy.ndimage import map_coordinates

    away = np.arange(-PROFILE_PX, PROFILE_PX + PROFILE_STEP_PX / 2, PROFILE_STEP_PX)
    lobe = (np.abs(away) >= SHARPENED_PX[0]) & (np.abs(away) <= SHARPENED_PX[1])
    dips = []
    for mark in _plain_marks(marks):
        along = np.gradient(mark.points, axis=0)
        along /= np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-9)
        across = np.column_stack([along[:, 1], -along[:, 0]])[::PROFILE_EVERY]
        places = mark.points[None, ::PROFILE_EVERY] + away[:, None, None] * across[None]
        light = map_coordinates(luminance, [places[..., 0], places[..., 1]], order=1, mode="nearest")
        profile = light.mean(axis=1)
        ground = float(np.median(np.concatenate([profile[:6], profile[-6:]])))
        height = float(profile[len(away) // 2]) - ground
        if height > PROFILE_LEAST_PEAK:
            even = 0.5 * (profile + profile[::-1]) - ground
            dips.append(-float(even[lobe].min()) / height)
    return float(np.median(dips)) if len(dips) >= PROFILE_LEAST_MARKS else math.nan


def _plain_marks(marks: Sequence[Mark]) -> list[Mark]:
    """Bright marks, the longest first: enough of them."""
    bright = [mark for mark in marks if mark.polarity == "bright" and len(mark.points) >= 30]
    return sorted(bright, key=lambda mark: -mark.length_mm)[:PROFILE_MOST_MARKS]


def _grain(luminance: NDArray[np.float32], measured: PanelMeasurement) -> tuple[float, float]:
    """Scatter and correlation of mark-free blocks, at the brightness where the scatter is least."""
    import cv2

    codes = _codes(luminance)
    codes -= cv2.GaussianBlur(codes, (0, 0), 4.0)
    hidden = np.zeros(luminance.shape, np.uint8)
    for mark in (*measured.marks, *measured.faint_marks):
        places = np.round(mark.points[:, ::-1]).astype(np.int32)
        cv2.polylines(hidden, [places], False, 1, 7)
    bare = (_blocks(measured.zone).min(axis=(1, 2)) > 0) & (_blocks(hidden).mean(axis=(1, 2)) < 0.02)
    if bare.sum() < GRAIN_LEAST_BLOCKS:
        return math.nan, math.nan
    rest, light = _blocks(codes)[bare], _blocks(luminance)[bare].mean(axis=(1, 2))
    power = np.maximum((rest**2).mean(axis=(1, 2)), 1e-6)
    beside = (rest[:, :, 1:] * rest[:, :, :-1]).mean(axis=(1, 2))
    below = (rest[:, 1:] * rest[:, :-1]).mean(axis=(1, 2))
    found = []
    stops = np.floor(np.log2(np.maximum(light, 1e-5)))
    for stop in np.unique(stops):
        here = stops == stop
        if here.sum() >= GRAIN_LEAST_BLOCKS:
            together = float(np.median(0.5 * (beside + below)[here] / power[here]))
            found.append((float(np.sqrt(np.median(power[here]))), together))
    return min(found, default=(math.nan, math.nan))


def _codes(luminance: NDArray[np.float32]) -> NDArray[np.float32]:
    """Light in steps of an 8-bit file, sRGB curve (IEC 61966-2-1)."""
    low = luminance <= 0.0031308
    curve = 1.055 * np.maximum(luminance, 1e-9) ** (1 / 2.4) - 0.055
    return np.asarray(255 * np.where(low, 12.92 * luminance, curve), dtype=np.float32)


def _blocks(picture: NDArray[np.generic]) -> NDArray[np.float32]:
    """(N, side, side) whole blocks of a picture."""
    side = GRAIN_BLOCK_PX
    rows, columns = (length // side for length in picture.shape)
    cut = picture[: rows * side, : columns * side].reshape(rows, side, columns, side)
    return np.asarray(cut.swapaxes(1, 2).reshape(-1, side, side), dtype=np.float32)
