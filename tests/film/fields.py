"""Fields of lines whose pieces light up and die from frame to frame, as under a lamp that moves."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from defectmap.film.homography import Field, Homography, changed, transform
from defectmap.panel.measurement import Mark

SHAPE = (720, 1280)


def straight_lines(
    seed: int, count: int, *, mean_deg: float = 0.0, spread_deg: float = 90.0
) -> NDArray[np.float64]:
    """(count, 2, 2) both ends, x and y in px, of lines 60 to 240 px long."""
    rng = np.random.default_rng(seed)
    middle = rng.uniform((0, 0), SHAPE[::-1], (count, 2))
    turn = np.deg2rad(mean_deg + rng.uniform(-spread_deg, spread_deg, count))
    half = rng.uniform(30, 120, (count, 1)) * np.column_stack([np.cos(turn), np.sin(turn)])
    return np.stack([middle - half, middle + half], axis=1)


def a_mark(points_xy: NDArray[np.float64], um: float = 300.0) -> Mark:
    """A mark with the same strength everywhere."""
    return Mark(
        kind="swirl",
        polarity="bright",
        points=points_xy[:, ::-1],
        length_mm=len(points_xy) / 10,
        width_mm=0.1,
        contrast=1.0,
        contrast_to_noise=10.0,
        equivalent_width_um=um,
        um=np.full(len(points_xy), um, np.float32),
        beside=np.full(len(points_xy), 0.05, np.float32),
    )


def sampled(ends: NDArray[np.float64]) -> NDArray[np.float64]:
    """Points one px apart from end to end."""
    count = max(2, round(float(np.hypot(*(ends[1] - ends[0])))) + 1)
    return np.asarray(ends[0] + np.linspace(0, 1, count)[:, None] * (ends[1] - ends[0]))


def lit(
    lines: NDArray[np.float64], lamp: tuple[float, float], *, along_px: float = 110.0
) -> list[NDArray[np.float64]]:
    """What a lamp at x, y lights of each line: about the foot of the perpendicular, not too far aside."""
    pieces = []
    for ends in lines:
        points = sampled(ends)
        way = (ends[1] - ends[0]) / np.hypot(*(ends[1] - ends[0]))
        away = points - lamp
        near = (np.abs(away @ way) < along_px) & (np.abs(away @ [-way[1], way[0]]) < 400)
        if near.sum() >= 12:
            pieces.append(points[near])
    return pieces


def hand(
    seed: int, *, spread: tuple[float, ...] = (0.03, 0.03, 0.006, 0.006, 0, 0, 0.001, 0.001)
) -> Homography:
    """Where a hand-held frame lies on the first one."""
    change = np.random.default_rng([seed, 3]).standard_normal(8) * spread
    return changed(np.eye(3), change, Field.of(SHAPE))


def seen_by(homography: Homography, pieces: list[NDArray[np.float64]], *, seed: int) -> list[Mark]:
    """Pieces in the pixels of a frame, a tenth of a pixel of error across."""
    rng = np.random.default_rng([seed, 4])
    back = np.linalg.inv(homography)
    marks = []
    for points in pieces:
        moved = transform(np.asarray(back, np.float64), points) + rng.normal(0, 0.15, 2)
        inside = np.all((moved >= 0) & (moved <= [SHAPE[1] - 1, SHAPE[0] - 1]), axis=1)
        if inside.sum() >= 12:
            marks.append(a_mark(moved[inside]))
    return marks
