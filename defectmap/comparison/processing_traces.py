"""Traces that processing leaves in one photograph: overshoot beside lines, and grain that is too fine."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from defectmap.comparison import tuning
from defectmap.comparison.grain_step import BareBlocks, LightClass, bare_blocks, grain_by_light
from defectmap.panel.measurement import PanelMeasurement


@dataclass(frozen=True, slots=True, kw_only=True)
class Processing:
    """Traces of processing in one photograph; NaN where there is too little to tell."""

    overshoot: float  # see `panel.sharpening`
    grain_codes: float  # scatter of mark-free blocks in the quietest light, in steps of an 8-bit file
    grain_correlation: float  # of neighbouring pixels in those blocks
    grain: Mapping[int, LightClass] = field(default_factory=dict)  # by brightness, see `grain_step`

    @property
    def smoothed(self) -> bool:
        """Whether the grain is finer than the file's steps and hangs together: denoised or squeezed."""
        return self.grain_codes <= tuning.SMOOTH_CODES and self.grain_correlation >= tuning.SMOOTH_CORRELATION


def processing_of(luminance: NDArray[np.float32], measured: PanelMeasurement) -> Processing:
    """Look for traces of processing in a photograph.

    Parameters
    ----------
    luminance : (H, W) float32 ndarray
        Linear light, 0 to 1.
    measured : PanelMeasurement
        What was measured in it.
    """
    bare = bare_blocks(luminance, measured)
    codes, correlation = _quietest(bare)
    return Processing(
        overshoot=measured.sharpening.overshoot if measured.sharpening else math.nan,
        grain_codes=codes,
        grain_correlation=correlation,
        grain=grain_by_light(bare),
    )


def sharpened(before: Processing, after: Processing) -> bool:
    """Whether one of two photographs was sharpened more than the other; its grain differs by that too."""
    return abs(after.overshoot - before.overshoot) >= tuning.OVERSHOOT_STEP


def _quietest(bare: BareBlocks) -> tuple[float, float]:
    """Scatter and correlation of mark-free blocks, at the brightness where the scatter is least."""
    if len(bare.light) < tuning.GRAIN_LEAST_BLOCKS:
        return math.nan, math.nan
    rest = bare.rest
    power = np.maximum((rest**2).mean(axis=(1, 2)), 1e-6)
    beside = (rest[:, :, 1:] * rest[:, :, :-1]).mean(axis=(1, 2))
    below = (rest[:, 1:] * rest[:, :-1]).mean(axis=(1, 2))
    found = []
    stops = np.floor(np.log2(np.maximum(bare.light, 1e-5)))
    for stop in np.unique(stops):
        here = stops == stop
        if here.sum() >= tuning.GRAIN_LEAST_BLOCKS:
            together = float(np.median(0.5 * (beside + below)[here] / power[here]))
            found.append((float(np.sqrt(np.median(power[here]))), together))
    return min(found, default=(math.nan, math.nan))
