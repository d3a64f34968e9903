"""Strength along the lines of a film's map."""

from __future__ import annotations

import numpy as np

from defectmap.film.strongest import bridged
from defectmap.panel.paths import Paths

SCALE = 10.0  # so that a millimetre is 11 points
LINE = np.column_stack([np.arange(60.0), np.zeros(60)])


def test_a_dip_shorter_than_a_millimetre_is_filled_and_a_longer_one_is_not() -> None:
    strength = np.full(120, 200, np.float32)
    strength[20:28] = 40
    strength[80:95] = 40
    found = bridged(strength, Paths.of([LINE, LINE]), scale=SCALE)
    assert found[:60].min() == 200
    assert found[82:93].max() == 40
    strength[20:28] = 20
    assert bridged(strength, Paths.of([LINE, LINE]), scale=SCALE)[20:28].max() == 20  # nothing is seen there


def test_lines_do_not_fill_one_another_and_ends_do_not_grow() -> None:
    strength = np.concatenate([np.full(60, 200), np.full(4, 30), np.full(56, 200)]).astype(np.float32)
    found = bridged(strength, Paths.of([LINE, LINE]), scale=SCALE)
    assert found[60:64].max() == 30
    assert np.all(found >= strength)
