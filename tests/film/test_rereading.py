"""Lines read once more in all frames: many looks must not find more by chance than one."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from defectmap.film import tuning
from defectmap.film.rereading import _limit, _Reading


def a_look(places: list[int]) -> _Reading:
    nothing = np.zeros(len(places), np.float32)
    return _Reading(places=np.array(places, np.intp), um=nothing, beside=nothing, quiet_um=nothing)


def test_twelve_looks_err_as_rarely_as_one() -> None:
    limit = _limit([a_look([0, 1])] + [a_look([1])] * 11, 3)
    assert limit[0] == pytest.approx(tuning.REREAD_SIGMAS)
    assert limit[2] == pytest.approx(tuning.REREAD_SIGMAS)  # where nobody looks
    noise = np.random.default_rng(5).standard_normal((12, 200_000))
    of_one = norm.sf(tuning.REREAD_SIGMAS)
    assert (noise > limit[1]).any(axis=0).mean() == pytest.approx(of_one, rel=0.08)
    assert (noise > tuning.REREAD_SIGMAS).any(axis=0).mean() > 8 * of_one
