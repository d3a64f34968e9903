"""What a tone curve did to the contrast of lines, read from the grain that is as wide as they are.

A curve over the whole picture multiplies the contrast of all that is small by its slope, grain and lines
alike; one that works locally flattens what is broad and leaves both. At one distance from the lamp the same
light fell on the sensor, so there the grain over the light should be the same in both photographs (photon
transfer, EMVA Standard 1288): what it is not, the curve did, and did to the lines.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from defectmap.comparison import tuning
from defectmap.comparison.grain_step import codes_of
from defectmap.comparison.processing_traces import sharpened
from defectmap.comparison.settings_step import light_step, other_camera

if TYPE_CHECKING:
    from defectmap.comparison.conditions import Evidence

Levels = NDArray[np.float64]


def contrast_step(before: Evidence, after: Evidence, levels: tuple[Levels, Levels], *, slope: float) -> float:
    """ln of the contrast of what is as wide as a line, after over before.

    Parameters
    ----------
    before, after : Evidence
        Of the two photographs.
    levels : tuple of two (N,) float64 ndarray
        log2 of the light at the same distances from the lamp, before and after; finite.
    slope : float
        Of the one's logarithm of light against the other's, above 0.

    Returns
    -------
    float
        NaN where grain or settings are not known, where two cameras took them or one of them was sharpened or
        smoothed (which changes grain by itself), or the grain says what no curve of this slope can do.
    """
    traces = before.processing, after.processing
    grain_apart = sharpened(*traces) or traces[0].smoothed != traces[1].smoothed
    if grain_apart or other_camera(before.facts, after.facts):
        return math.nan
    told = (
        -0.5 * math.log(2) * light_step(before.facts, after.facts)
    )  # shot noise falls with the root of light
    if math.isnan(told) or not (before.processing.grain and after.processing.grain):
        return math.nan
    order = np.argsort(levels[1])
    (first, ground, _), (second, grain, blocks) = _relative_grain(before), _relative_grain(after)
    place = np.interp(second, levels[1][order], levels[0][order], left=math.nan, right=math.nan)
    step = grain - np.interp(place, first, ground, left=math.nan, right=math.nan)
    told_by = np.isfinite(step) & (np.fmin(second, place) >= tuning.CONTRAST_FROM_LOG2)
    if blocks[told_by].sum() < tuning.GRAIN_LEAST_BLOCKS:
        return math.nan
    rest = step - np.clip(step, min(told, 0.0), max(told, 0.0))
    found = float(np.average(rest[told_by], weights=blocks[told_by]))
    least, most = sorted((math.log(slope), 0.0))
    return found if least - tuning.CONTRAST_BEYOND <= found <= most + tuning.CONTRAST_BEYOND else math.nan


def _relative_grain(side: Evidence) -> tuple[Levels, Levels, Levels]:
    """log2 of the light of each class, ln of its grain over that light, and the blocks it is from."""
    classes = np.array(sorted(side.processing.grain))
    found = [side.processing.grain[one] for one in classes]
    log2 = (classes + 0.5) / tuning.GRAIN_CLASSES_PER_STOP
    codes, more = (
        codes_of((2.0 ** (log2 + step)).astype(np.float32))
        for step in (-tuning.SLOPE_LOG2, tuning.SLOPE_LOG2)
    )
    per_ln = (more - codes) / (2 * tuning.SLOPE_LOG2 * math.log(2))  # codes for each e-fold of light
    grain = np.maximum([one.codes for one in found], tuning.GRAIN_LEAST_CODES)
    return log2, np.log(grain / per_ln), np.array([one.blocks for one in found], dtype=np.float64)
