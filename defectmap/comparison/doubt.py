"""What two photographs of one paint differ by, that is none of the paint: carried into every interval."""

from __future__ import annotations

import math

import numpy as np

from defectmap.comparison import tuning
from defectmap.comparison.align import Alignment
from defectmap.comparison.halo import HaloDifference
from defectmap.comparison.matching import StrengthStep
from defectmap.comparison.processing import Side, bends_halo, grain_limit, grain_unexplained
from defectmap.comparison.processing_traces import sharpened
from defectmap.comparison.settings_step import other_camera


def lamp_share(alignment: Alignment, *, calibrated: bool) -> float:
    """Variance of ln(density ratio) for one mark a side, by a lamp's reflection that lies elsewhere.

    A groove is lit where it runs across the direction to the reflection, so when that moves, the lit pieces
    move along their grooves: some reach an end or fall below the standard, others rise above it. Over the
    number of marks of each side this is the least that two photographs of one paint scatter by.

    Parameters
    ----------
    alignment : Alignment
        How they lie on each other.
    calibrated : bool
        Whether both are in mm.

    Returns
    -------
    float
        From 0 for a lamp that did not move to `MOVED_SHARE`, also where it is not known how far it moved.
    """
    if not (alignment.sure and calibrated):
        return tuning.MOVED_SHARE
    moved = math.hypot(alignment.down_mm, alignment.right_mm)
    return tuning.MOVED_SHARE * -math.expm1(-((moved / tuning.MOVED_MM) ** 2))


def strength_doubt(
    before: Side,
    after: Side,
    halo: HaloDifference,
    *,
    blur_steps: float = 0.0,
    seen: StrengthStep | None = None,
) -> float:
    """Standard deviation of ln(W, after over before) of one and the same mark, by what was done to both.

    Parameters
    ----------
    halo : HaloDifference
        Its `tone` tells how the tone curves differ.
    blur_steps : float, optional
        Difference of ln(share of a line's light that is read), from the widths of the same marks.
    seen : StrengthStep, optional
        What the marks that both show say of it, where something was done to one side; it is corrected.
    """
    camera = tuning.CROSS_STRENGTH if other_camera(before.facts, after.facts) else tuning.SAME_STRENGTH
    first, second = before.facts.iso, after.facts.iso
    base = math.hypot(camera, tuning.ISO_STRENGTH * math.log(second / first) if first and second else 0.0)
    if seen is not None:
        bent = halo.toned or bends_halo(before, after, halo, seen)
        local = tuning.SEEN_TONE * abs(math.log(halo.tone)) if bent else 0.0
        return math.hypot(base, tuning.SEEN_STRENGTH * seen.step, seen.error, local)
    parts = [base, blur_steps]
    step, rest = after.found.overshoot - before.found.overshoot, grain_unexplained(before, after)
    grained = rest is not None and rest.rms >= grain_limit(before.facts, after.facts)
    if sharpened(before.found, after.found):
        parts.append(tuning.OVERSHOOT_STRENGTH * abs(step))
        grained = grained and rest is not None and rest.mean * step < 0  # sharpening leaves none finer
    if grained or before.found.smoothed != after.found.smoothed:
        parts.append(tuning.SMOOTH_STRENGTH)
    if halo.toned:
        share = tuning.TONE_STRENGTH if math.isnan(halo.contrast) else tuning.CONTRAST_STRENGTH
        parts.append(share * abs(math.log(halo.tone)))
    elif halo.hazed:
        parts.append(tuning.HAZE_STRENGTH * math.log(2) * float(np.median(np.abs(halo.beside_stops))))
    return math.hypot(*parts)
