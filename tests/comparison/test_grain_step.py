"""The grain of one photograph against that of another, light for light."""

from dataclasses import replace

import numpy as np
import pytest

from defectmap.comparison import tuning
from defectmap.comparison.grain_step import LightClass, bare_blocks, grain_by_light, grain_step
from tests.comparison import made
from tests.comparison.test_processing import codes_to_light


def level(codes_sd: float, *, seed: int, lines: bool = False) -> dict[int, LightClass]:
    """Grain of grey that grows from the left to the right, with white noise, and lines that are known."""
    rng = np.random.default_rng(seed)
    codes = np.tile(np.linspace(40, 160, made.SIZE_PX[1]), (made.SIZE_PX[0], 1))
    codes += rng.normal(0, codes_sd, codes.shape)
    marks = []
    if lines:
        for row in range(40, 860, 41):
            codes[row, 60:1100] += 60
            marks.append(made.mark(np.column_stack([np.full(1040, row), np.arange(60, 1100)])))
    bare = made.photograph(made.panel(1, 0))
    whole = replace(bare, marks=tuple(marks), zone=np.ones(made.SIZE_PX, np.bool_))
    return grain_by_light(bare_blocks(codes_to_light(codes), whole))


def test_twice_the_noise_is_ln_2() -> None:
    # rounding to codes adds 1/12 of a step squared to either
    step = grain_step(level(3.0, seed=1), level(6.0, seed=2))
    assert step is not None
    assert step.mean == pytest.approx(0.5 * np.log((36 + 1 / 12) / (9 + 1 / 12)), abs=0.03)
    assert step.rms == pytest.approx(abs(step.mean), abs=0.03)


def test_marks_are_no_grain() -> None:
    step = grain_step(level(3.0, seed=1), level(3.0, seed=2, lines=True))
    assert step is not None
    assert step.rms < 0.05


def test_strips_of_a_large_picture_say_what_all_of_it_says(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = level(3.0, seed=1)
    monkeypatch.setattr(tuning, "GRAIN_PIXELS", made.SIZE_PX[0] * made.SIZE_PX[1] / 3)
    some = level(3.0, seed=1)
    blocks = [sum(one.blocks for one in side.values()) for side in (whole, some)]
    assert blocks[1] == pytest.approx(blocks[0] / 3, rel=0.3)
    step = grain_step(whole, some)
    assert step is not None
    assert step.rms < 0.03


def test_what_is_explained_is_no_difference() -> None:
    before, after = ({1: LightClass(codes, 100)} for codes in (1.0, 1.5))
    for explained, rest in (
        (0.0, np.log(1.5)),
        (np.log(4), 0.0),
        (np.log(1.2), np.log(1.25)),
        (-1.0, np.log(1.5)),
    ):
        step = grain_step(before, after, explained=explained)
        assert step is not None
        assert step.mean == pytest.approx(rest)


def test_a_sensors_grain_has_to_grow_and_the_paints_own_has_not() -> None:
    before, after = ({1: LightClass(codes, 100)} for codes in (1.0, 1.1))
    sensor = grain_step(before, after, explained=np.log(16), own_codes=2.0)
    paint = grain_step(before, after, explained=np.log(16), own_codes=0.5)
    assert sensor is not None
    assert paint is not None
    assert sensor.mean == pytest.approx(np.log(1.1) - 0.35 * np.log(4))  # a third of shot noise's growth
    assert paint.mean == 0.0


def test_only_light_that_both_show_counts() -> None:
    before, after = {1: LightClass(1.0, 100)}, {2: LightClass(1.0, 100)}
    assert grain_step(before, after) is None
    assert grain_step(before, {1: LightClass(1.0, 39)}) is None  # and enough of it
