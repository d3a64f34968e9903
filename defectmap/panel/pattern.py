"""Whether a picture repeats itself, as cloth, print, mesh and screens do and paint does not.

The power spectra of squares of the picture are averaged. Grain, flakes and orange peel spread their power
over all directions, marks along one; what repeats puts it into a few sharp peaks. So each frequency is held
against the others of its distance (a ring) and then against those of its direction (a sector), and the share
of power in peaks that stand far above both is told.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from defectmap.panel import tuning

_SIDE = tuning.PATTERN_SIDE_PX
JPEG_BLOCK_PX = 8


def repeating_share(luminance: NDArray[np.float32], zone: NDArray[np.bool_]) -> float:
    """Share of fine structure's power in sharp peaks of the spectrum, that half of the squares have at least.

    Of two sizes, the larger share counts.

    Parameters
    ----------
    luminance : (H, W) float32 ndarray
        Linear light 0..1.
    zone : (H, W) bool ndarray
        Where to look.

    Returns
    -------
    float
        0..1; 0 where too few squares fit into the zone.
    """
    most = 0.0
    for shrink in (1, 2):
        squares = _squares(luminance, zone, shrink)
        if len(squares) >= tuning.PATTERN_LEAST_SQUARES:
            most = max(most, _peak_share(squares))
    return most


def _squares(
    luminance: NDArray[np.float32], zone: NDArray[np.bool_], shrink: int
) -> list[NDArray[np.float32]]:
    """Relative light of squares spread over the zone, each `shrink` times reduced."""
    side = _SIDE * shrink
    rows, columns = (
        np.unique(np.linspace(0, max(length - side, 0), tuning.PATTERN_ACROSS).astype(int)).tolist()
        for length in zone.shape
    )
    found = []
    for row in rows:
        for column in columns:
            part = slice(row, row + side), slice(column, column + side)
            light = luminance[part]
            if light.shape != (side, side) or not zone[part][::JPEG_BLOCK_PX, ::JPEG_BLOCK_PX].all():
                continue
            small = cv2.resize(light, (_SIDE, _SIDE), interpolation=cv2.INTER_AREA)
            ground = np.maximum(cv2.blur(small, (tuning.PATTERN_GROUND_PX,) * 2), tuning.PATTERN_DARKEST)
            relative = np.clip(small / ground - 1, -tuning.PATTERN_MOST, tuning.PATTERN_MOST)
            found.append(np.asarray(relative - relative.mean(), np.float32))
    return found


@dataclass(frozen=True, slots=True, eq=False)
class _Plane:
    """Frequencies of a square's spectrum, in periods a side."""

    window: NDArray[np.float32]
    looked_at: NDArray[np.bool_]  # fine enough, and off the 8 px grid of JPEG
    ring: NDArray[np.int64]
    sector: NDArray[np.int64]


@cache
def _plane() -> _Plane:
    down, right = np.fft.fftfreq(_SIDE)[:, None] * _SIDE, np.fft.rfftfreq(_SIDE)[None] * _SIDE
    away = np.hypot(down, right)
    grid, between = np.ones(away.shape, bool), _SIDE / JPEG_BLOCK_PX
    for frequency in (down, right):
        off = (frequency + between / 2) % between - between / 2
        grid &= np.abs(off) < tuning.PATTERN_GRID_PERIODS
    first, last = tuning.PATTERN_PERIODS
    degrees = np.rad2deg(np.arctan2(down, right)) % 180
    return _Plane(
        np.asarray(np.outer(np.hanning(_SIDE), np.hanning(_SIDE)), np.float32),
        (away >= first) & (away <= last) & ~grid,
        np.round(away).astype(np.int64),
        (degrees // tuning.PATTERN_SECTOR_DEG).astype(np.int64),
    )


def _peak_share(squares: list[NDArray[np.float32]]) -> float:
    plane = _plane()
    each = [np.abs(np.fft.rfft2(square * plane.window)) ** 2 for square in squares]
    each = [one / max(float(one[plane.looked_at].sum()), 1e-12) for one in each]
    power = np.sum(each, axis=0)
    against_ring = power / _medians(power, plane.ring, plane.looked_at)[plane.ring]
    along = _medians(against_ring, plane.sector, plane.looked_at)
    along = np.maximum(along, np.maximum(np.roll(along, 1), np.roll(along, -1)))
    ground = np.maximum(np.maximum(along, 1)[plane.sector], _before_and_behind(against_ring))
    peaks = plane.looked_at & (against_ring > tuning.PATTERN_PEAK * ground)
    return float(np.median([one[peaks].sum() for one in each]))  # cloth is everywhere, an edge here or there


def _before_and_behind(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """The smaller of the values a little nearer and farther on the ray through each frequency: an edge, or
    marks of one direction, have a ridge there, what repeats itself has nothing."""
    rows, columns = np.indices(values.shape)
    signed = np.where(rows < _SIDE / 2, rows, rows - _SIDE)
    beside = []
    for share in tuning.PATTERN_ALONG_RAY:
        row = np.round(signed * share).astype(np.int64)
        column = np.minimum(np.round(columns * share).astype(np.int64), values.shape[1] - 1)
        beside.append(values[row.clip(-_SIDE // 2, _SIDE // 2 - 1), column])
    return np.asarray(np.minimum(*beside))


def _medians(
    values: NDArray[np.float64], group: NDArray[np.int64], used: NDArray[np.bool_]
) -> NDArray[np.float64]:
    """Median of the values used in each group; infinite where there is none."""
    return np.array(
        [
            np.median(values[member]) if (member := used & (group == one)).any() else np.inf
            for one in range(int(group.max()) + 1)
        ]
    )
