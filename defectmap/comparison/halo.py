"""How the light of one photograph stands to that of another: exposure, shape of the halo, paint beside it."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from defectmap.comparison import tuning
from defectmap.comparison.conditions import Evidence
from defectmap.comparison.tone_contrast import contrast_step


@dataclass(frozen=True, slots=True, kw_only=True)
class HaloDifference:
    """The after halo against the before halo at the same distances; NaN where they share no ring."""

    stops: float  # exposure step, after over before
    shape: float  # RMS of the rest, in stops
    radius_steps: float  # ln of the brighter hotspot's radius over that expected from the darker one's halo
    body_stops: float  # light far out, after over before, less `stops`
    tone: float = 1.0  # slope of the after halo's logarithm of light against the before one's
    toned: bool = False  # whether a tone curve of that slope explains what the halos' shapes differ by
    hazed: bool = False  # whether haze that came or went does
    contrast: float = math.nan  # ln of what a tone curve did to lines, see `tone_contrast`
    at_mm: NDArray[np.float64] = field(default_factory=lambda: np.empty(0))  # (N,) distances, and
    # what the light there changed by, exposure (read beside the lamp) taken out
    beside_stops: NDArray[np.float64] = field(default_factory=lambda: np.empty(0))


def halo_difference(before: Evidence, after: Evidence) -> HaloDifference:
    """Compare two halos at the same distances in mm (px where no scale is known).

    Light far out, paint and glare, belongs to the paint; the shape is read only where the halo is well above
    it.
    """
    inner = max(before.halo_mm[0], after.halo_mm[0])
    outer = min(before.halo_mm[-1], after.halo_mm[-1])
    grid = np.linspace(inner, outer, tuning.HALO_GRID)
    levels = [_at(grid, side) for side in (before, after)]
    both = np.isfinite(levels[0]) & np.isfinite(levels[1])
    if both.sum() < tuning.HALO_LEAST:
        return HaloDifference(stops=math.nan, shape=math.nan, radius_steps=math.nan, body_stops=math.nan)
    far = np.flatnonzero(both)[-max(2, int(tuning.HALO_FAR_SHARE * both.sum())) :]
    floors = [float(np.median(level[far])) for level in levels]
    strong = both.copy()
    for level, floor in zip(levels, floors, strict=True):
        # beside the rim part of a ring is clipped, far out there is only paint, in the dark only codes
        strong &= (level < tuning.RIM_LOG2) & (
            level > max(floor + math.log2(tuning.ABOVE_FAR), tuning.DARK_LOG2)
        )
    change = levels[1] - levels[0]
    step = _smooth(change[strong if strong.sum() >= tuning.HALO_LEAST else both])
    stops = float(np.median(step))
    shape, radius = float(np.sqrt(np.mean((step - stops) ** 2))), _radius_steps(before, after, stops)
    first, second = levels[0][both], levels[1][both]
    tone, toned = _tone(first, second, before, after)
    near = _near(first)
    whole = _smooth(change[both])
    beside = whole - (float(np.median(whole[near])) if near.sum() >= tuning.LEAST_NEAR else stops)
    lamp_alike = shape < tuning.HALO_SHAPE_STOPS.no and abs(radius) < tuning.RADIUS_STEPS.care
    return HaloDifference(
        stops=stops,
        tone=tone,
        toned=toned,
        contrast=contrast_step(before, after, (first, second), slope=tone),
        hazed=not toned and lamp_alike and _hazed(beside, first, second),
        shape=shape,
        radius_steps=radius,
        body_stops=floors[1] - floors[0] - stops,
        at_mm=grid[both],
        beside_stops=beside,
    )


def _smooth(steps: NDArray[np.float64]) -> NDArray[np.float64]:
    evenly = np.full(tuning.HALO_SMOOTH, 1 / tuning.HALO_SMOOTH)
    return np.convolve(np.pad(steps, tuning.HALO_SMOOTH // 2, mode="edge"), evenly, mode="valid")


def _hazed(beside: NDArray[np.float64], first: NDArray[np.float64], second: NDArray[np.float64]) -> bool:
    """Whether the light departs one way beyond the lamp's own image, and not beside it.

    Haze is a broad veil about the lamp: close by it drowns in the lamp's own image, far out in the paint's.
    """
    beyond = beside[first <= tuning.NEAR_LOG2[1]]
    if len(beyond) < tuning.HALO_LEAST or not abs(_near_slope(first, second)) < tuning.TONE_NEAR:
        return False
    middle = float(np.median(beyond))
    one_way = float((beyond * np.sign(middle) > 0).mean()) > tuning.HAZE_ONE_WAY
    return (
        one_way
        and abs(middle) >= tuning.HAZE_CHANGE_STOPS
        and bool(np.quantile(np.abs(beyond), tuning.HAZE_QUANTILE) <= tuning.HAZE_MOST_STOPS)
    )


def _tone(
    first: NDArray[np.float64], second: NDArray[np.float64], before: Evidence, after: Evidence
) -> tuple[float, bool]:
    """Slope between two halos' levels, and whether it is that of a tone curve, not of another lamp or haze.

    A tone curve leaves the hotspot as wide as it was, and what it bends it bends evenly: beside the lamp,
    where haze does nothing, as well.
    """
    slope, rest = _line(first, second)
    if not slope > 0:
        return 1.0, False
    bent = tuning.TONE_LEAST <= abs(math.log(slope)) <= tuning.TONE_MOST
    close = _near_slope(first, second)
    everywhere = math.isnan(close) or close * math.copysign(1, math.log(slope)) >= tuning.TONE_NEAR
    alike = (
        abs(math.log(after.radius_mm / before.radius_mm)) <= tuning.TONE_RADIUS
        and before.lamps == after.lamps
    )
    return slope, bool(bent and everywhere and alike and rest <= tuning.TONE_REST_STOPS)


def _near_slope(first: NDArray[np.float64], second: NDArray[np.float64]) -> float:
    """ln of the slope between two halos' levels beside the lamp; NaN where too few rings show it."""
    near = _near(first)
    slope = _line(first[near], second[near])[0] if near.sum() >= tuning.LEAST_NEAR else 0.0
    return math.log(slope) if slope > 0 else math.nan


def _near(level: NDArray[np.float64]) -> NDArray[np.bool_]:
    return (level < tuning.NEAR_LOG2[0]) & (level > tuning.NEAR_LOG2[1])


def _line(first: NDArray[np.float64], second: NDArray[np.float64]) -> tuple[float, float]:
    """Slope of the line through pairs of levels, 0 where none fits, and RMS of what it leaves."""
    apart = first - first.mean()
    spread = float((apart**2).mean())
    if spread <= 0:
        return 0.0, 0.0
    slope = float((apart * (second - second.mean())).mean()) / spread
    rest = second - second.mean() - slope * apart
    return slope, float(np.sqrt(np.mean(rest**2)))


def haze_apart(before: Evidence, after: Evidence) -> bool:
    """Whether the paint's haze differs so far that the halos and the light beside marks differ by it."""
    if min(before.haze, after.haze) <= 0:
        return before.haze != after.haze
    return abs(math.log(after.haze / before.haze)) >= tuning.HAZE_STEPS


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
    tints = [
        np.log2((rgb[[0, 2]] + tuning.DARK_LINEAR) / (rgb[1] + tuning.DARK_LINEAR)) for rgb in (first, second)
    ]
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
