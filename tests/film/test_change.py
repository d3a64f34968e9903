"""The interval of two films."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from defectmap.film import tuning
from defectmap.film.change import Lengths, density, lengths_in, ratio_interval, strong_lines, swept
from defectmap.film.common_ground import Common, common_of, levelled
from defectmap.film.comparing import compare_films
from defectmap.film.directions import Rose
from tests.film.fields import straight_lines
from tests.film.measured import measured


def common() -> Common:
    """Both films show each direction everywhere."""
    zone = np.ones((10, 1), np.float32)
    both = np.ones((10, 1, tuning.DIRECTION_BINS), bool)
    grid = Rose(lamp_places=both.astype(np.uint8), cell_px=20.0, zone_share=zone)
    alike = np.ones(both.shape)
    zone_px = np.ones((200, 20), bool)
    return Common(grid=grid, zone=zone_px, both=both, cell_cm2=1.0, better=(alike, alike))


def lengths(line_mm: NDArray[np.float64], *, jump: float = 0.0, alone: int = 0) -> Lengths:
    """So many lines of the film are shown by it alone; leaving out frames takes or adds a share."""
    whole = np.full(tuning.DIRECTION_BINS, line_mm.sum() / tuning.DIRECTION_BINS)
    groups = 1 + jump * np.resize([1.0, -1.0], tuning.FRAME_GROUPS)
    shown = np.where(np.arange(len(line_mm)) < alone, line_mm, 0.0)
    return Lengths(by_direction=whole, without=groups[:, None] * whole, alone_mm=shown)


BEFORE, AFTER = np.full(100, 12.0), np.full(50, 12.0)


def width(*, jump: float = 0.0, alone: int = 0) -> float:
    found = ratio_interval(lengths(BEFORE, jump=jump, alone=50), lengths(AFTER, alone=alone), common())
    low, high = found.change_interval_percent
    assert low < -50 < high
    return high - low


def test_marks_that_both_films_show_do_not_widen_the_interval() -> None:
    student = 2.101  # t of 18 degrees of freedom, 97.5 % (Student's table; from memory)
    floor = 50 * (math.exp(student * tuning.FILM_SCATTER) - math.exp(-student * tuning.FILM_SCATTER))
    assert width() == pytest.approx(floor, rel=0.002)


def test_marks_that_only_the_film_after_shows_widen_it() -> None:
    """McNemar's test (Psychometrika 12:153, 1947, from memory): of pairs, only those that differ speak."""
    assert width(alone=10) > 1.3 * width()
    assert width(alone=20) > width(alone=10)


def test_frames_that_disagree_widen_the_interval() -> None:
    assert width(jump=0.02) > 1.3 * width()


def test_what_the_other_film_shows_is_not_shown_by_one_alone() -> None:
    field = straight_lines(3, 90)
    whole, part = measured(field, name="whole"), measured(field[:60], phase=0.6, name="part")
    seen = common_of(whole, part, np.eye(3))
    beside = strong_lines(part, np.eye(3))
    alone = lengths_in(whole, seen, np.eye(3), beside=beside)
    back = lengths_in(part, seen, np.eye(3), beside=strong_lines(whole, np.eye(3)))
    assert 0.2 < alone.alone_mm.sum() / alone.by_direction.sum() < 0.5
    assert back.alone_mm.sum() < 0.08 * back.by_direction.sum()


def test_two_sweeps_of_untouched_paint_agree() -> None:
    field = straight_lines(5, 120)
    for phase in (0.4, 1.1, 2.2):
        found = compare_films(measured(field), measured(field, phase=phase, name="again"))
        assert found.change("density all").distinguishable is False


def test_what_the_sweeps_alone_make_of_the_ratio_widens_it() -> None:
    plain = ratio_interval(lengths(BEFORE, alone=50), lengths(AFTER), common())
    guessed = ratio_interval(lengths(BEFORE, alone=50), lengths(AFTER), common(), by_sweeps=0.05)
    low, high = guessed.change_interval_percent
    assert high - low > 1.5 * np.subtract(*plain.change_interval_percent[::-1])


def test_a_film_whose_lamp_stood_worse_is_told_as_the_other_lamp_would_show_it() -> None:
    """One sweep is cut to its left half: at the right its grooves are told stronger, never weaker."""
    field, still = straight_lines(9, 120), np.eye(3)
    whole = measured(field)
    half = replace(whole, lamps=tuple(lamp for lamp in whole.lamps if lamp.x < 500))
    seen = common_of(whole, half, still)
    assert np.allclose(seen.better[0], 1)
    better = levelled(half, seen, still, seen.better[1])
    times = np.abs(better.lines.um).max(0) / np.maximum(np.abs(half.lines.um).max(0), 1e-6)
    right = (half.lines.paths.points[:, 0] > 900) & (half.lines.um != 0).any(0)
    assert np.median(times[right]) == pytest.approx(tuning.MOST_TIMES)
    assert times.max() <= tuning.MOST_TIMES + 1e-5
    own, level = (lengths_in(film, seen, still) for film in (half, better))
    full = lengths_in(whole, seen, still)
    made = swept((full, full), (own, level), seen)
    assert made == pytest.approx(math.log(density_of(level, seen) / density_of(own, seen)))


def density_of(found: Lengths, seen: Common) -> float:
    return density(found.by_direction, seen.area_cm2)


def test_what_only_one_film_reaches_is_in_neither_figure() -> None:
    """A second film lies 20 mm to the left: marks at the right of the first say nothing."""
    field = straight_lines(7, 150)
    whole, beside = measured(field), measured(field, phase=1.1, name="again")
    shifted = np.array([[1.0, 0, -200], [0, 1, 0], [0, 0, 1]])
    seen = common_of(whole, beside, shifted)
    counted = lengths_in(whole, seen, np.eye(3))
    cut = whole.panel.zone.copy()
    cut[:, -200:] = False
    assert not (seen.zone & ~cut).any()
    held = lengths_in(replace(whole, lines=whole.lines.inside(cut)), seen, np.eye(3))
    assert counted.by_direction.sum() == pytest.approx(held.by_direction.sum(), rel=0.01)
