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
from dataclasses import replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from defectmap.panel import tuning
from defectmap.panel.measurement import Mark
from defectmap.panel.paths import Paths


def with_hidden(lines: Sequence[Mark], zone: NDArray[np.bool_], *, scale: float) -> list[Mark]:
    """The same lines, each saying how much length it stands for.

    Parameters
    ----------
    zone : (H, W) bool ndarray
        Where marks count.
    scale : float
        Pixels a millimetre.
    """
    if not lines:
        return []
    cell_px = tuning.HIDING_CELL_MM * scale
    size = (int(zone.shape[1] / cell_px) + 1, int(zone.shape[0] / cell_px) + 1)
    inside = np.asarray(cv2.resize(zone.view(np.uint8), size, interpolation=cv2.INTER_AREA), np.uint8)
    classes = _by_strength(lines)
    in_cells = [Paths.of([lines[i].points / cell_px for i in some]) for some in classes]
    strongest = _strongest(in_cells, inside.shape)
    whole = cv2.integral(inside)
    share = np.zeros(len(lines))
    for which in range(1, len(classes)):  # nothing is stronger than the first class
        hiding = cv2.integral((strongest < which) * inside)
        there = _windows(in_cells[which], inside.shape)
        covered = _summed(hiding, there) / np.maximum(_summed(whole, there), 1)
        share[classes[which]] = np.add.reduceat(covered, in_cells[which].starts) / in_cells[which].lengths
    stands = 1 / (1 - np.minimum(share, tuning.MOST_HIDDEN))
    return [
        line if one == line.stands_for else replace(line, stands_for=one)
        for line, one in zip(lines, stands.tolist(), strict=True)
    ]


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


def _strongest(classes: Sequence[Paths], shape: tuple[int, ...]) -> NDArray[np.uint8]:
    """Number of the strongest class with a line whose strip covers a cell; 255 where there is none."""
    drawn = np.full(shape, 255, np.uint8)
    for number, paths in reversed(list(enumerate(classes))):
        corners = [np.round(points[:, ::-1]).astype(np.int32) for points in paths.lines()]
        cv2.polylines(drawn, corners, False, number)
    width = round(tuning.HIDING_STRIP_MM / tuning.HIDING_CELL_MM)
    strip = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (width, width))
    return np.asarray(cv2.erode(drawn, strip), np.uint8)


def _windows(paths: Paths, shape: tuple[int, ...]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """First and last corner, (2, N) row and column, of the square around each point, within the grid."""
    half = round(tuning.HIDING_REACH_MM / tuning.HIDING_CELL_MM)
    most = np.array(shape)[:, None]
    cells = np.clip(paths.points.astype(int).T, 0, most - 1)
    return np.maximum(cells - half, 0), np.minimum(cells + half + 1, most)


def _summed(integral: NDArray[Any], window: tuple[NDArray[np.int64], NDArray[np.int64]]) -> NDArray[np.int64]:
    """Sum over each square, from a summed-area table."""
    (top, left), (bottom, right) = window
    return np.asarray(
        integral[bottom, right].astype(np.int64)
        - integral[top, right]
        - integral[bottom, left]
        + integral[top, left]
    )
