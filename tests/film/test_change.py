"""The interval of two films."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from defectmap.film import tuning
from defectmap.film.change import Common, Lengths, common_of, lengths_in, ratio_interval, strong_lines
from defectmap.film.comparing import compare_films
from defectmap.film.directions import Rose
from tests.film.fields import straight_lines
from tests.film.measured import measured


def common() -> Common:
    """Both films show each direction everywhere."""
    zone = np.ones((10, 1), np.float32)
    both = np.ones((10, 1, tuning.DIRECTION_BINS), bool)
    grid = Rose(lamp_places=both.astype(np.uint8), cell_px=20.0, zone_share=zone)
    return Common(grid=grid, zone=np.ones((200, 20), bool), both=both, cell_cm2=1.0)


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
