"""Kinds of marks: what long, straight, bent and accompanied lines are taken for."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from defectmap import measure
from defectmap.panel.kinds import in_trails, kind_of, kinds
from defectmap.panel.measurement import Density
from defectmap.panel.paths import Paths
from tests.phantom import Shot, arc, photograph, scratches, swirls, trails
from tests.phantom.grooves import Groove
from tests.rendered import file_of, line

SHOT = Shot(size_px=(1200, 1600), px_per_mm=20.0)


def abreast(
    count: int,
    *,
    apart_mm: float = 0.6,
    length_mm: float = 20.0,
    ahead_mm: float = 0.0,
    turn_deg: float = 0.0,
    start: tuple[float, float] = (0.0, 0.0),
) -> list[NDArray[np.float64]]:
    """Straight lines side by side, each a bit farther ahead and turned than the one before."""
    made = []
    for i in range(count):
        turn = np.radians(i * turn_deg)
        first = np.array([start[0] + i * apart_mm, start[1] + i * ahead_mm])
        made.append(line(first, first + length_mm * np.array([np.sin(turn), np.cos(turn)]), step=0.1))
    return made


def trailing(lines: list[NDArray[np.float64]]) -> list[bool]:
    result: list[bool] = in_trails(Paths.of(lines)).tolist()
    return result


# --- scratch or swirl -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("length_mm", "radius_mm", "kind"),
    [
        (40.0, np.inf, "scratch"),
        (12.0, np.inf, "scratch"),
        (8.0, np.inf, "swirl"),  # too short to tell
        (40.0, 90.0, "swirl"),  # bent as a wash mark is, however long
        (12.0, 200.0, "swirl"),
        (20.0, 200.0, "scratch"),
    ],
)
def test_long_and_straight_lines_are_scratches(length_mm: float, radius_mm: float, kind: str) -> None:
    assert kind_of(length_mm=length_mm, radius_mm=radius_mm) == kind


@given(st.floats(1, 200), st.floats(5, 5000), st.floats(1, 3), st.floats(1, 3))
@settings(max_examples=60, deadline=None)
def test_a_longer_or_straighter_scratch_stays_a_scratch(
    length: float, radius: float, longer: float, straighter: float
) -> None:
    if kind_of(length_mm=length, radius_mm=radius) == "scratch":
        assert kind_of(length_mm=length * longer, radius_mm=radius * straighter) == "scratch"


# --- trails -----------------------------------------------------------------------------


def test_many_lines_side_by_side_are_a_trail() -> None:
    assert trailing(abreast(10)) == [True] * 10
    assert kinds(Paths.of(abreast(10))) == ["trail"] * 10  # long and straight as they are


def test_arcs_round_one_centre_are_a_trail() -> None:
    rings = [
        arc((0.0, 0.0), radius_px=80 + 0.5 * i, start_deg=0, sweep_deg=15, step_px=0.1) for i in range(9)
    ]
    assert trailing(rings) == [True] * 9


@pytest.mark.parametrize(
    "lines",
    [
        pytest.param(abreast(4), id="a bunch, as a cloth leaves it"),
        pytest.param(abreast(7), id="one short of a trail"),
        pytest.param(abreast(12, apart_mm=4.0), id="too far apart"),
        pytest.param(abreast(12, turn_deg=8.0), id="in many directions"),
        pytest.param(abreast(12, length_mm=3.0), id="too short"),
        pytest.param(abreast(12, apart_mm=0.3, ahead_mm=15.0), id="one behind the other"),
        pytest.param([], id="nothing"),
    ],
)
def test_other_company_is_no_trail(lines: list[NDArray[np.float64]]) -> None:
    assert not any(trailing(lines))


def test_lines_beside_a_trail_are_its_border_and_others_are_not() -> None:
    trail, border = abreast(9), abreast(1, start=(8.5, 0.0))
    aside, across = abreast(1, start=(30.0, 0.0)), [line((-5.0, 10.0), (15.0, 10.0), step=0.1)]
    assert trailing([*trail, *border, *aside, *across]) == [True] * 10 + [False] * 2


@given(st.floats(0, 360), st.integers(0, 5))
@settings(max_examples=20, deadline=None)
def test_a_trail_is_one_in_every_direction_and_order(turn_deg: float, seed: int) -> None:
    rng = np.random.default_rng(seed)
    lines = [*abreast(9), *abreast(3, start=(40.0, 5.0))]
    turn = np.radians(turn_deg)
    matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    order = rng.permutation(len(lines))
    found = trailing([lines[i][:: rng.choice([-1, 1])] @ matrix.T for i in order])
    assert found == [bool(i < 9) for i in order]


def test_a_polished_panel_shows_trails_and_a_washed_one_none() -> None:
    def density(grooves: tuple[Groove, ...]) -> Density:
        picture = photograph([*grooves, *scratches(1, count=2)], SHOT)
        return measure(file_of(picture.rgb), px_per_mm=20.0).density

    polished = density(trails(2, density_mm_per_cm2=150.0))
    # half of what is found; the rest are lone pieces at the border of what the light shows
    assert polished.trail > 0.5 * polished.all
    for washed in (swirls(5, density_mm_per_cm2=60.0), swirls(6, density_mm_per_cm2=300.0)):
        assert density(washed).trail == 0.0
