"""What two photographs of one paint differ by, that is none of the paint: carried into every interval."""

from __future__ import annotations

import math

import numpy as np

from defectmap.comparison.align import Alignment
from defectmap.comparison.common import CommonTables
from defectmap.comparison.halo import HaloDifference
from defectmap.comparison.matching import StrengthStep
from defectmap.comparison.processing import (
    Side,
    bends_halo,
    grain_limit,
    grain_unexplained,
    other_camera,
)
from defectmap.comparison.sampling import effective_marks
from defectmap.comparison.tuning import (
    CROSS_STRENGTH,
    GRAIN_STRENGTH,
    GRAIN_STRENGTH_MOST,
    HAZE_STRENGTH,
    OTHER_MARKS_MM,
    OVERSHOOT_STRENGTH,
    SAME_STRENGTH,
    SEEN_STRENGTH,
    SEEN_TONE,
    SMOOTH_STRENGTH,
    TONE_STRENGTH,
    USUAL_MOVE_MM,
)


def moved_doubt(alignment: Alignment, tables: CommonTables) -> float:
    """Standard deviation of ln(density ratio) by a lamp's reflection that lies elsewhere on the paint.

    Which grooves light up follows the direction to the lamp, so the farther its reflection moved, the more
    marks of one photograph are others than those of the other, drawn from the same paint by themselves: each
    side then scatters by one over its number of marks. What a hand usually moves it by is in the set-up's own
    scatter.

    Parameters
    ----------
    alignment : Alignment
        Sure of its place, and in mm; else nothing is known of it.
    tables : CommonTables
        Marks of both photographs.
    """
    marks = [effective_marks(side) for side in (tables.before, tables.after)]
    if not (alignment.sure and min(marks) > 0):
        return 0.0
    moved = math.hypot(alignment.down_mm, alignment.right_mm)
    others = min(1.0, max(0.0, moved**2 - USUAL_MOVE_MM**2) / OTHER_MARKS_MM**2)
    return math.sqrt(others * (1 / marks[0] + 1 / marks[1]))


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
    before, after : Side
    halo : HaloDifference
        Its `tone` tells how the tone curves differ.
    blur_steps : float, optional
        Difference of ln(share of a line's light that is read), from the widths of the same marks.
    seen : StrengthStep, optional
        What the marks that both show say of it, where something was done to one side, half of it corrected.

    Returns
    -------
    float
    """
    base = CROSS_STRENGTH if other_camera(before.facts, after.facts) else SAME_STRENGTH
    if seen is not None:
        bent = halo.toned or bends_halo(before, after, halo, seen)
        local = SEEN_TONE * abs(math.log(halo.tone)) if bent else 0.0
        return math.hypot(base, SEEN_STRENGTH * seen.step, seen.error, local)
    parts = [base, blur_steps]
    step = abs(after.found.overshoot - before.found.overshoot)
    if step == step:
        parts.append(OVERSHOOT_STRENGTH * step)
    if before.found.smoothed != after.found.smoothed:
        parts.append(SMOOTH_STRENGTH)
    rest = grain_unexplained(before, after)
    if rest is not None and rest.rms >= grain_limit(before.facts, after.facts):
        parts.append(min(GRAIN_STRENGTH * rest.rms, GRAIN_STRENGTH_MOST))
    if halo.toned:
        parts.append(TONE_STRENGTH * abs(math.log(halo.tone)))
    elif halo.hazed:
        parts.append(HAZE_STRENGTH * math.log(2) * float(np.median(np.abs(halo.beside_stops))))
    return math.hypot(*parts)
