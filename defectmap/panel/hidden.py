"""How much length neighbours hide: where lines are dense, the weaker of two that run close together is lost.

The filters that find lines answer a strong one with dark lobes on both sides, and what lies within is
judged a part of it; so close to a stronger line a weaker one is not found. What is found can be counted for
what is not: a line that was found among strips which cover a share f of its surroundings had the chance 1 - f
to be found, and stands for 1 / (1 - f) of its length (Horvitz and Thompson 1952, *Journal of the American
Statistical Association* 47, 663-685; from memory). A line alone stands for itself.

On the tests' renderer the density is 3 to 16 % low at 8 to 37 mm/cm² without it and within 5 % with it, at 31
to 72 mm/cm² 16 to 29 % low without and 3 to 11 % with it (`benchmarks/phones.py --density 250`, `500`).
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from itertools import accumulate

import cv2
import numpy as np
from numpy.typing import NDArray

from defectmap.panel import tuning
from defectmap.panel.measurement import Mark

Grid = NDArray[np.float32]


def with_hidden(lines: Sequence[Mark], zone: NDArray[np.bool_], *, scale: float) -> list[Mark]:
    """The same lines, each saying how much length it stands for.

    Parameters
    ----------
    lines : sequence of Mark
    zone : (H, W) bool ndarray
        Where marks count.
    scale : float
        Pixels a millimetre.
    """
    if not lines:
        return []
    cell_px = tuning.HIDING_CELL_MM * scale
    size = (int(zone.shape[1] / cell_px) + 1, int(zone.shape[0] / cell_px) + 1)
    area = np.asarray(cv2.resize(zone.astype(np.float32), size, interpolation=cv2.INTER_AREA), np.float32)
    around = np.maximum(_surroundings(area), 1)
    share = np.zeros(len(lines))
    classes = _by_strength(lines)
    drawn = [_strips([lines[i].points / cell_px for i in some], area.shape) for some in classes[:-1]]
    stronger = list(accumulate(drawn, np.bitwise_or))

    def look(which: int) -> None:
        covered = np.asarray(_surroundings(stronger[which - 1] * area) / around, np.float32)
        for i in classes[which]:
            share[i] = _along(covered, lines[i].points / cell_px)

    with ThreadPoolExecutor(2) as pool:  # OpenCV lets go of the interpreter's lock
        list(pool.map(look, range(1, len(classes))))  # nothing is stronger than the first class
    stands = 1 / (1 - np.minimum(share, tuning.MOST_HIDDEN))
    return [replace(line, stands_for=one) for line, one in zip(lines, stands.tolist(), strict=True)]


def hidden_share(marks: Sequence[Mark]) -> float:
    """Share of the length counted that was not seen but is inferred from what was; 0 without marks."""
    counted = sum(mark.length_mm * mark.stands_for for mark in marks)
    return 1 - sum(mark.length_mm for mark in marks) / counted if counted else 0.0


def _by_strength(lines: Sequence[Mark]) -> list[NDArray[np.int64]]:
    """Indices of the lines in classes of about equal length, the strongest first."""
    order = np.argsort([-line.equivalent_width_um for line in lines], kind="stable")
    reached = np.cumsum([lines[i].length_mm for i in order])
    which = np.searchsorted(
        np.arange(1, tuning.HIDING_CLASSES) / tuning.HIDING_CLASSES, reached / reached[-1]
    )
    return [order[which == one] for one in np.unique(which)]


def _surroundings(grid: Grid) -> Grid:
    side = round(2 * tuning.HIDING_REACH_MM / tuning.HIDING_CELL_MM) | 1
    summed = cv2.boxFilter(grid, -1, (side, side), normalize=False, borderType=cv2.BORDER_CONSTANT)
    return np.asarray(summed, np.float32)


def _along(covered: Grid, points: NDArray[np.float64]) -> float:
    rows, columns = np.clip(points.astype(int), 0, np.array(covered.shape) - 1).T
    return float(covered[rows, columns].mean())


def _strips(paths: Sequence[NDArray[np.float64]], shape: tuple[int, ...]) -> NDArray[np.uint8]:
    """1 in a strip along each path, of row and column in cells."""
    drawn = np.zeros(shape, np.uint8)
    corners = [np.round(points[:, ::-1]).astype(np.int32) for points in paths]
    cv2.polylines(drawn, corners, False, 1)
    width = round(tuning.HIDING_STRIP_MM / tuning.HIDING_CELL_MM)
    return np.asarray(
        cv2.dilate(drawn, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (width, width))), np.uint8
    )
