"""Is the hotspot's outline round, or has it even bulges: several lights that melted into one?

Lights on a ring that melt together leave as many even bulges in the outline as there are on the ring, while
orange peel frays it at random. Which of the two it is, is Fisher's test for one period in noise: the share of
the largest ordinate in the sum of all of them (Fisher 1929, Proc. R. Soc. A 125, 54-59; from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from defectmap.comparison import tuning
from defectmap.comparison.averaged import Grid, Sheet

PERIODS = np.arange(tuning.OUTLINE_PERIODS[0], tuning.OUTLINE_PERIODS[1] + 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bulges:
    """Even bulges of an outline."""

    count: int
    height: float  # share of the radius
    share: float  # of all fraying


def outline(sheet: Sheet, *, radius_px: float) -> NDArray[np.float64]:
    """How far the hotspot's outline departs from an ellipse, by how often it does so on the way round.

    Parameters
    ----------
    sheet : Sheet
        The photograph.
    radius_px : float
        Of the hotspot, in px of the photograph.

    Returns
    -------
    (10,) float64 ndarray
        Amplitude for each of `PERIODS`, as a share of the radius, RMS over four levels of light; NaN where
        the outline is not whole in the picture.
    """
    rays = _rays(sheet, radius_px / sheet.shrink)
    peak = float(np.nanquantile(rays, tuning.OUTLINE_PEAK))
    powers = []
    for level in tuning.OUTLINE_LEVELS:
        below = rays < level * peak
        first = below.argmax(axis=0)
        inside = np.arange(len(rays))[:, None] <= first
        if not below.any(axis=0).all() or np.isnan(rays[inside]).any():
            return np.full(len(PERIODS), math.nan)
        # an ellipse is r^-2 = a + b cos 2(azimuth - c): curved panels and slanting views do not count
        inverse = np.fft.rfft((first + 1.0) ** -2)
        powers.append(
            (np.abs(inverse[PERIODS]) / inverse[0].real) ** 2
        )  # relative height of r is half of 2/N
    return np.asarray(np.sqrt(np.mean(powers, axis=0)))


def bulges(heights: NDArray[np.float64]) -> Bulges | None:
    """Even bulges, if the outline has them.

    Parameters
    ----------
    heights : (10,) float64 ndarray
        From `outline`.

    Returns
    -------
    Bulges or None
        None for a round or merely frayed outline, or one that is not known.
    """
    power = heights**2
    total = float(power.sum())
    if not total > 0:
        return None
    best = int(power[PERIODS <= tuning.MOST_LIGHTS].argmax())
    found = Bulges(count=int(PERIODS[best]), height=float(heights[best]), share=float(power[best]) / total)
    return found if found.share >= tuning.BULGE_SHARE and found.height >= tuning.LEAST_BULGE else None


def height_of(heights: NDArray[np.float64], count: int) -> float:
    """Height of so many bulges, whether even or not; NaN where the outline is not known."""
    return float(heights[count - PERIODS[0]])


def _rays(sheet: Sheet, radius: float) -> Grid:
    """(distance, azimuth) light on rays from the hotspot without fine marks; NaN beyond the picture."""
    import cv2

    scale = tuning.OUTLINE_PX_PER_RADIUS / radius
    reach = tuning.OUTLINE_REACH_RADII * radius
    middle = (sheet.row, sheet.column)
    low = [max(0, math.floor(at - reach)) for at in middle]
    high = [math.ceil(at + reach) + 1 for at in middle]
    cut = sheet.light[low[0] : high[0], low[1] : high[1]]
    kind = cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
    small = cv2.resize(cut, None, fx=scale, fy=scale, interpolation=kind)
    small = cv2.GaussianBlur(cv2.medianBlur(small, tuning.OUTLINE_MEDIAN), (0, 0), tuning.OUTLINE_BLUR)
    row, column = ((at - first + 0.5) * scale - 0.5 for at, first in zip(middle, low, strict=True))
    turn = np.arange(tuning.OUTLINE_AZIMUTHS) * (2 * math.pi / tuning.OUTLINE_AZIMUTHS)
    away = np.arange(0.5, tuning.OUTLINE_REACH_RADII * tuning.OUTLINE_PX_PER_RADIUS, 0.5)[:, None]
    rows, columns = (row + away * np.sin(turn)), (column + away * np.cos(turn))
    rays = cv2.remap(
        small,
        columns.astype(np.float32),
        rows.astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=math.nan,
    )
    return np.asarray(rays, dtype=np.float32)
