"""The interval of two films."""

from __future__ import annotations

import numpy as np

from defectmap.film import tuning
from defectmap.film.change import Common, Lengths, ratio_interval
from defectmap.film.directions import Rose


def common(share: float) -> Common:
    """Both films show each direction of the first so many cells out of ten."""
    zone = np.ones((10, 1), np.float32)
    both = np.zeros((10, 1, tuning.DIRECTION_BINS), bool)
    both[: round(10 * share)] = True
    grid = Rose(lamp_places=both.astype(np.uint8), cell_px=20.0, zone_share=zone)
    return Common(grid=grid, both=both, cell_cm2=1.0)


def lengths(by_block: np.ndarray, *, jump: float = 0.0, less: float = 0.0) -> Lengths:
    whole = np.tile(by_block[:, None] / tuning.DIRECTION_BINS, (1, tuning.DIRECTION_BINS))
    groups = 1 - less + jump * np.resize([1.0, -1.0], tuning.FRAME_GROUPS)
    return Lengths(by_block=whole, without=groups[:, None] * whole.sum(axis=0))


BEFORE = np.full(24, 50.0)
AFTER = 50.0 * np.resize([0.4, 0.6], 24)


def width(share: float, *, jump: float = 0.0, less: float = 0.0) -> float:
    found = ratio_interval(lengths(BEFORE, jump=jump, less=less), lengths(AFTER), common(share))
    low, high = found.change_interval_percent
    assert low < -50 < high
    return high - low


def test_what_was_seen_whole_does_not_scatter() -> None:
    """Blocks differ in what was taken off; that says nothing against the figure of a spot that was all seen.

    Cochran, *Sampling Techniques* (1977), section 2.6: a sample of the share f of a finite population has
    (1 - f) times the variance of one drawn without end (from memory). The films' own scatter is apart.
    """
    half, most = width(0.5) ** 2, width(0.9) ** 2
    floor = (2 * 2.069 * 50 * tuning.FILM_SCATTER) ** 2  # t of 23 degrees of freedom
    shown = tuning.SHOWN_OF_SHOWABLE
    expected = (1 - shown * 0.9) / (1 - shown * 0.5)
    assert abs((most - floor) / (half - floor) - expected) < 0.05


def test_frames_that_disagree_widen_the_interval() -> None:
    assert width(0.9, jump=0.02) > 1.3 * width(0.9)


def test_a_sweep_that_further_frames_would_add_to_is_less_sure() -> None:
    assert width(0.9, less=0.02) > 1.3 * width(0.9)
