"""How strong a mark is: its equivalent width, the light of the line over the light beside it.

W = ∫ (L − B) / B dx across the line, in µm and in linear light, as spectroscopy measures its lines (any
textbook, for instance Gray, *The Observation and Analysis of Stellar Photospheres*; from memory). The sum
across a line outlives blur and another number of pixels for a millimetre, and the ratio outlives exposure and
gain; sharpening is taken back first (`sharpening`); so W belongs to the paint and its light, where a contrast
to noise belongs to the camera.
"""

from __future__ import annotations

import math
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from defectmap.panel import tuning
from defectmap.panel.contrast import in_order, light_across, running_median
from defectmap.panel.measurement import Sharpening
from defectmap.panel.paths import Paths, normals
from defectmap.panel.sharpening import margin_px, taken_back
from defectmap.panel.threads import in_pairs


def equivalent_width(
    luminance: NDArray[np.float32], paths: Paths, *, px_per_mm: float, done: Sharpening | None = None
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Equivalent width of lines, point by point.

    The light beside is taken on either side by itself, as a running median, so that neither crossings nor
    a neighbour lift it; the two are averaged, so that a slope of light cancels.

    Parameters
    ----------
    luminance : (H, W) float32 ndarray
        Linear light 0..1.
    paths : Paths
        Row, column, about one point a pixel.
    done : Sharpening, optional
        To be taken back first, see `sharpening.sharpening`.

    Returns
    -------
    um : (N,) float32 ndarray
        Running median along 1 mm; + where the line is brighter than what lies beside it, − where darker.
    beside : (N,) float32 ndarray
        Linear light beside the line.
    """
    if len(paths) < 2:
        return _read(luminance, paths, px_per_mm=px_per_mm, done=done)
    middle = int(np.searchsorted(np.cumsum(paths.lengths), len(paths.points) / 2))
    first = np.arange(len(paths)) < min(middle + 1, len(paths) - 1)
    read = partial(_read, luminance, px_per_mm=px_per_mm, done=done)
    (um, beside), (more_um, more_beside) = in_pairs(read, (paths.keep(first), paths.keep(~first)))
    return np.concatenate([um, more_um]), np.concatenate([beside, more_beside])


def _read(
    luminance: NDArray[np.float32], paths: Paths, *, px_per_mm: float, done: Sharpening | None
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """`equivalent_width`, on one processor."""
    reach = round((tuning.SIDE_MM[1] + 1e-9) / tuning.ACROSS_STEP_MM)
    offsets = np.arange(-reach, reach + 1, dtype=np.float64) * tuning.ACROSS_STEP_MM
    light = _light(luminance, paths, reach, px_per_mm=px_per_mm, done=done)
    window = max(3, round(tuning.STANDARD_LENGTH_MM * px_per_mm)) | 1
    beside = _beside(light, offsets, paths, window)
    core = np.abs(offsets) <= tuning.HALF_CORE_MM + 1e-9
    line = light[:, core].sum(axis=1) * np.float32(tuning.ACROSS_STEP_MM)
    wide = np.float32(core.sum() * tuning.ACROSS_STEP_MM)
    ground = np.maximum(beside, np.float32(tuning.DARKEST_BESIDE))
    um = 1000 * (line - beside * wide) / ground
    return running_median(um, paths, window_px=window), beside


def _light(
    luminance: NDArray[np.float32], paths: Paths, reach: int, *, px_per_mm: float, done: Sharpening | None
) -> NDArray[np.float32]:
    """(N, 2 * reach + 1) light across each point, as it was before the picture was sharpened."""
    step_px = tuning.ACROSS_STEP_MM * px_per_mm
    margin = math.ceil(margin_px(done) / step_px) if done is not None and done.amount else 0
    offsets_px = np.arange(-reach - margin, reach + margin + 1) * step_px
    light = light_across(luminance, paths.points, normals(paths), offsets_px)
    return taken_back(light, done, step_px=step_px, margin=margin) if done is not None and margin else light


def _beside(
    light: NDArray[np.float32], offsets: NDArray[np.floating[Any]], paths: Paths, window_px: int
) -> NDArray[np.float32]:
    sides = []
    for way in (-1, 1):
        there = (way * offsets >= tuning.SIDE_MM[0] - 1e-9) & (way * offsets <= tuning.SIDE_MM[1] + 1e-9)
        across = in_order(light[:, there])[int(there.sum()) // 2]
        sides.append(running_median(across, paths, window_px=window_px))
    return np.asarray(0.5 * (sides[0] + sides[1]), np.float32)
