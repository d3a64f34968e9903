"""How the light of one photograph stands to that of another: exposure, shape of the halo, paint beside it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from defectmap.comparison.conditions import Evidence
from defectmap.comparison.tuning import (
    ABOVE_FAR,
    DARK_LINEAR,
    DARK_LOG2,
    HALO_GRID,
    HAZE_STEPS,
    RIM_LOG2,
    TONE_LEAST,
    TONE_MOST,
    TONE_RADIUS,
    TONE_REST_STOPS,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class HaloDifference:
    """The after halo against the before halo at the same distances; NaN where they share no ring."""

    stops: float  # exposure step, after over before
    shape: float  # RMS of the rest, in stops
    radius_steps: float  # ln of the brighter hotspot's radius over that expected from the darker one's halo
    body_stops: float  # light far out, after over before, less `stops`
    tone: float = 1.0  # slope of the after halo's logarithm of light against the before one's
    toned: bool = False  # whether a tone curve of that slope explains what the halos' shapes differ by


def halo_difference(before: Evidence, after: Evidence) -> HaloDifference:
    """Compare two halos at the same distances in mm (px where no scale is known).

    Light far out, paint and glare, belongs to the paint; the shape is read only where the halo is well above
    it.
    """
    inner = max(before.halo_mm[0], after.halo_mm[0])
    outer = min(before.halo_mm[-1], after.halo_mm[-1])
    grid = np.linspace(inner, outer, HALO_GRID)
    levels = [_at(grid, side) for side in (before, after)]
    both = np.isfinite(levels[0]) & np.isfinite(levels[1])
    if both.sum() < 5:
        return HaloDifference(stops=math.nan, shape=math.nan, radius_steps=math.nan, body_stops=math.nan)
    far = np.flatnonzero(both)[-max(2, int(0.1 * both.sum())) :]
    floors = [float(np.median(level[far])) for level in levels]
    strong = both.copy()
    for level, floor in zip(levels, floors, strict=True):
        # beside the rim part of a ring is clipped, far out there is only paint, in the dark only codes
        strong &= (level < RIM_LOG2) & (level > max(floor + math.log2(ABOVE_FAR), DARK_LOG2))
    step = (levels[1] - levels[0])[strong if strong.sum() >= 5 else both]
    step = np.convolve(np.pad(step, 2, mode="edge"), np.full(5, 0.2), mode="valid")
    stops = float(np.median(step))
    tone, toned = _tone(levels[0][both], levels[1][both], before, after)
    return HaloDifference(
        stops=stops,
        tone=tone,
        toned=toned,
        shape=float(np.sqrt(np.mean((step - stops) ** 2))),
        radius_steps=_radius_steps(before, after, stops),
        body_stops=floors[1] - floors[0] - stops,
    )


def _tone(
    first: NDArray[np.float64], second: NDArray[np.float64], before: Evidence, after: Evidence
) -> tuple[float, bool]:
    """Slope between two halos' levels, and whether it is that of a tone curve and not of another lamp.

    A tone curve leaves the hotspot as wide as it was, and what it bends it bends evenly.
    """
    middle, spread = first.mean(), float(np.var(first))
    if spread <= 0:
        return 1.0, False
    slope = float(((first - middle) * (second - second.mean())).mean() / spread)
    if slope <= 0:
        return 1.0, False
    rest = second - second.mean() - slope * (first - middle)
    bent = TONE_LEAST <= abs(math.log(slope)) <= TONE_MOST
    alike = abs(math.log(after.radius_mm / before.radius_mm)) <= TONE_RADIUS and before.lamps == after.lamps
    return slope, bool(bent and alike and np.sqrt(np.mean(rest**2)) <= TONE_REST_STOPS)


def haze_apart(before: Evidence, after: Evidence) -> bool:
    """Whether the paint's haze differs so far that the halos and the light beside marks differ by it."""
    if min(before.haze, after.haze) <= 0:
        return before.haze != after.haze
    return abs(math.log(after.haze / before.haze)) >= HAZE_STEPS


def colour_difference_stops(first: NDArray[np.float64], second: NDArray[np.float64]) -> float:
    """Largest change of red or blue against green, in stops; colours too dark to tell count little.

    Parameters
    ----------
    first, second : (3,) float64 ndarray
        Linear red, green, blue.

    Returns
    -------
    float
        0 for one colour at any brightness well above the darkest codes.
    """
    tints = [np.log2((rgb[[0, 2]] + DARK_LINEAR) / (rgb[1] + DARK_LINEAR)) for rgb in (first, second)]
    return float(np.abs(tints[1] - tints[0]).max())


def _at(grid: NDArray[np.float64], side: Evidence) -> NDArray[np.float64]:
    """Halo at other distances; NaN where it is not known."""
    known = np.isfinite(side.halo_log2)
    if known.sum() < 2:
        return np.full(len(grid), np.nan)
    return np.interp(grid, side.halo_mm[known], side.halo_log2[known], left=np.nan, right=np.nan)


def _radius_steps(before: Evidence, after: Evidence, stops: float) -> float:
    """Let the darker photograph's halo be as bright as the other: how wide would its hotspot be?"""
    darker, brighter = (before, after) if stops >= 0 else (after, before)
    known = np.isfinite(darker.halo_log2)
    # at its own rim the darker photograph just clips: level 0, and `stops` above that once it is made
    # brighter
    distance = np.concatenate([[darker.radius_mm], darker.halo_mm[known]])
    level = np.concatenate([[0.0], np.minimum(darker.halo_log2[known], 0.0)]) + abs(stops)
    below = np.flatnonzero(level < 0)
    if not len(below) or below[0] == 0:
        return math.log(brighter.radius_mm / distance[-1 if not len(below) else 0])
    one, other = below[0] - 1, below[0]
    share = level[one] / (level[one] - level[other])
    expected = distance[one] + share * (distance[other] - distance[one])
    return math.log(brighter.radius_mm / float(expected))
