"""Lines found twice: what belongs to a stronger line is cut off, what crosses it is kept."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from defectmap.panel.candidates import Candidate, runs, without_doubles
from defectmap.panel.contrast import LineLight
from defectmap.panel.measurement import Polarity
from defectmap.panel.paths import Paths
from defectmap.panel.tuning import HALF_PROFILE_PX
from tests.rendered import line

SHAPE, PX_PER_MM = (400, 400), 20.0


def found(points: NDArray[np.float64], *, strength: float = 10.0, polarity: Polarity = "bright") -> Candidate:
    """A candidate of even contrast."""
    values = np.full(len(points), strength, np.float32)
    profile = np.full((len(points), 2 * HALF_PROFILE_PX + 1), 0.2, np.float32)
    evidence = LineLight(
        left=values, right=values, hump=0 * values, line=values, surround=values, profile=profile
    )
    return Candidate(
        polarity=polarity, points=np.asarray(points), evidence=evidence, strength=strength, width_px=2.2
    )


def kept(*candidates: Candidate) -> list[Candidate]:
    return without_doubles(candidates, SHAPE, scale=PX_PER_MM)


def lengths(*candidates: Candidate) -> list[int]:
    return sorted(len(c.points) for c in kept(*candidates))


STRONG = found(line((200, 50), (200, 350)), strength=20.0)


@pytest.mark.parametrize("aside", [0.0, 1.0, 2.0])
def test_the_same_line_twice_is_one(aside: float) -> None:
    assert kept(STRONG, found(line((200 + aside, 60), (200 + aside, 340)))) == [STRONG]


def test_a_line_beside_it_is_another() -> None:
    assert len(kept(STRONG, found(line((206, 60), (206, 340))))) == 2


@pytest.mark.parametrize("aside", [2.0, 3.0])
def test_the_dark_lobe_of_a_bright_line_is_no_line(aside: float) -> None:
    assert kept(STRONG, found(line((200 + aside, 60), (200 + aside, 340)), polarity="dark")) == [STRONG]


def test_only_the_common_part_of_two_lines_is_cut_off() -> None:
    away = np.concatenate([line((201, 100), (201, 200)), line((201, 201), (320, 300))])
    (rest,) = [c for c in kept(STRONG, found(away)) if c is not STRONG]
    # the strip is 5 to 7 px wide, so the branch starts a few px behind the fork
    assert len(away) - 120 < len(rest.points) < len(away) - 95
    assert len(rest.evidence.left) == len(rest.points)


def test_a_remnant_shorter_than_two_least_lengths_is_dropped() -> None:
    on = np.concatenate([line((201, 100), (201, 250)), line((202, 251), (230, 270))])
    assert kept(STRONG, found(on)) == [STRONG]


@pytest.mark.parametrize("angle_deg", [8, 15, 30, 90])
def test_lines_that_cross_are_kept_whole(angle_deg: int) -> None:
    turn = np.radians(angle_deg)
    half = 120 * np.array([np.sin(turn), np.cos(turn)])
    other = found(line(200 - half, 200 + half))
    assert kept(STRONG, other) == [STRONG, other]


def test_a_line_that_ends_in_another_keeps_its_end() -> None:
    other = found(line((100, 100), (200, 200)))
    assert kept(STRONG, other) == [STRONG, other]


def test_the_order_in_which_lines_were_found_does_not_matter() -> None:
    away = found(np.concatenate([line((201, 100), (201, 200)), line((201, 201), (320, 300))]))
    assert lengths(STRONG, away) == lengths(away, STRONG)


def test_runs_end_where_lines_end() -> None:
    starts, stops = runs(np.ones(7, bool), Paths(np.zeros((7, 2)), np.array([3, 4])))
    assert (starts.tolist(), stops.tolist()) == ([0, 3], [3, 7])
