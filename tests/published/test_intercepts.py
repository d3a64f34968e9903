"""Length density read two ways: traced lengths added up, and test lines that count crossings.

Stereology: length per area L_A = (pi / 2) P_L, with P_L the crossings per length of test line (Buffon;
Underwood, Quantitative Stereology, 1970; printed in stereology.sums.ac.ir, training 6). Counting knows
nothing of lengths, so it checks ours.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.phantom.flat import hits, poisson_lines
from tests.published import plain

SIDE_MM = 45.0
DIRECTIONS = 8  # evenly spread; 4 leave up to 5 % on a field with a preferred direction
SPACING_MM = 3.0


def crossings_per_mm(paths_mm: list[NDArray[np.float64]]) -> tuple[float, int]:
    """Count where paths cross parallel test lines in several directions, in a disc inside the picture."""
    segments = np.concatenate([np.stack([path[:-1], path[1:]], axis=1) for path in paths_mm])
    middle, radius = np.array([SIDE_MM / 2, SIDE_MM / 2]), 0.48 * SIDE_MM
    count, length = 0, 0.0
    for turn in np.pi * np.arange(DIRECTIONS) / DIRECTIONS:
        along, across = np.array([np.sin(turn), np.cos(turn)]), np.array([np.cos(turn), -np.sin(turn)])
        for away in np.arange(-radius + SPACING_MM / 2, radius, SPACING_MM):
            half = math.sqrt(radius**2 - away**2)
            foot = middle + away * across
            count += hits(segments, (tuple(foot - half * along), tuple(foot + half * along)))
            length += 2 * half
    return count / length, count


def length_in_disc(paths_mm: list[NDArray[np.float64]]) -> float:
    """Length of paths inside the same disc, and its area, in mm and mm²."""
    radius = 0.48 * SIDE_MM
    total = 0.0
    for path in paths_mm:
        middles = 0.5 * (path[1:] + path[:-1]) - SIDE_MM / 2
        inside = np.hypot(middles[:, 0], middles[:, 1]) <= radius
        total += float(np.linalg.norm(np.diff(path, axis=0), axis=1)[inside].sum())
    return total / (np.pi * radius**2)


@pytest.mark.parametrize(("per_mm", "seed", "off"), [(0.2, 11, 0.05), (0.5, 12, 0.05), (1.0, 13, 0.10)])
def test_traced_density_agrees_with_counted_crossings(per_mm: float, seed: int, off: float) -> None:
    """About 20, 50 and 100 mm/cm² of straight lines in every direction (the third drew 135)."""
    segments = poisson_lines(seed, density_per_mm=per_mm, size_mm=(SIDE_MM, SIDE_MM))
    side_px = round(SIDE_MM * plain.PX_PER_MM)
    picture = plain.draw(list(segments * plain.PX_PER_MM), size_px=(side_px, side_px))
    traced = [mark.points / plain.PX_PER_MM for mark in plain.marks_in(picture)]
    drawn = length_in_disc([np.linspace(start, stop, 400) for start, stop in segments])
    measured = length_in_disc(traced)
    per_length, count = crossings_per_mm(traced)
    # Counting N crossings scatters by 1 / sqrt(N) (Poisson lines); 2.5 of that.
    assert measured == pytest.approx(math.pi / 2 * per_length, rel=2.5 / math.sqrt(count))
    # Against what was drawn: 5 %, the level reached in print by dark-field tracing against a person
    # (Zhang, Wang and Fu, Optics Express 27:20910, 2019, abstract). 10 % where lines cross every 0.5 mm.
    assert measured == pytest.approx(drawn, rel=off)


@pytest.mark.parametrize(("turn_deg", "share"), [(0.0, 0.785), (45.0, 1.111)])
def test_one_direction_is_not_enough_on_a_grid(turn_deg: float, share: float) -> None:
    """A square grid counted along one direction gives 0.785 or 1.111 of its length (integral geometry)."""
    spacing, half = 1.0, 20.0
    places = np.arange(-half, half + 1e-9, spacing) + 0.3217
    grid = [np.array([[-half, p], [half, p]]) for p in places] + [
        np.array([[p, -half], [p, half]]) for p in places
    ]
    turn = math.radians(turn_deg)
    along, across = np.array([math.sin(turn), math.cos(turn)]), np.array([math.cos(turn), -math.sin(turn)])
    count, length = 0, 0.0
    for away in np.arange(-8.0, 8.0, 0.377):
        count += hits(np.array(grid), (tuple(away * across - 10 * along), tuple(away * across + 10 * along)))
        length += 20.0
    # 1.5 %: a test line of 20 spacings starts and ends between grid lines.
    assert math.pi / 2 * count / length / (2 / spacing) == pytest.approx(share, rel=0.015)
