"""From crest points to centrelines: linking, bridging, and lengths free of direction."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from defectmap.panel.noise import stabilise
from defectmap.panel.paths import Paths, polyline_length_px, resample, smooth
from defectmap.panel.ridges import RidgePoints, line_response, ridge_points
from defectmap.panel.traces import bridge, link, trace
from defectmap.panel.tuning import GAP_PX
from tests.phantom import arc, straight
from tests.rendered import line, paper

CENTRE = (200.3, 199.6)
LENGTH = 240.0
CNR = 10.0
# A traced line ends where its answer sinks below the threshold: near the drawn end, early or late.
END_PX = 2.0


def centrelines(picture: NDArray[np.float32], **options: Any) -> list[NDArray[np.float64]]:
    """Smoothed centrelines of bright lines that answer with at least four times the noise."""
    response, _ = line_response(stabilise(picture, gain=1.0))
    found = ridge_points(response, response > 4.0)
    reach = {"gap_px": GAP_PX, "shortest_px": 14.0, **options}
    return resample(smooth(resample(trace(found, shape=picture.shape, **reach)))).lines()


def lengths(picture: NDArray[np.float32], **options: Any) -> list[float]:
    return sorted((polyline_length_px(p) for p in centrelines(picture, **options)), reverse=True)


def crest(points: NDArray[np.float64], *, angle_deg: int) -> RidgePoints:
    """Crest points as a line of one direction leaves them: one a pixel."""
    points = np.asarray(points, float)
    pixels = np.round(points).astype(np.int64)
    _, first = np.unique(pixels, axis=0, return_index=True)
    pixels, points = pixels[np.sort(first)], points[np.sort(first)]
    turn = np.radians(angle_deg) % np.pi
    return RidgePoints(
        pixels=pixels,
        points=points,
        angle_rad=np.full(len(pixels), turn),
        response=np.full(len(pixels), 5.0, np.float32),
    )


# --- length -----------------------------------------------------------------------------


@pytest.mark.parametrize("angle_deg", np.arange(0, 91, 7.5))
def test_length_does_not_depend_on_direction(angle_deg: float) -> None:
    """Counting pixels is 29 % short at 45 degrees, skeleton steps 8 % long at 22.5 (integral geometry)."""
    picture = paper([straight(CENTRE, angle_deg=angle_deg, length_px=LENGTH)], cnr=CNR)
    # 2 %: END_PX at either end of 240 px.
    assert lengths(picture) == [pytest.approx(LENGTH, abs=2 * END_PX + 1)]


def test_length_is_the_same_in_every_direction() -> None:
    found = [
        sum(lengths(paper([straight(CENTRE, angle_deg=a, length_px=LENGTH)], cnr=CNR, seed=round(a))))
        for a in np.arange(0, 180, 22.5)
    ]
    # 1 % SD: one pixel at each end.
    assert np.std(found) / np.mean(found) < 0.01


@pytest.mark.parametrize(("radius", "sweep_deg"), [(40, 120), (60, 180), (100, 90), (150, 120)])
def test_arcs_have_their_length(radius: int, sweep_deg: int) -> None:
    points = arc((200, 200), radius_px=radius, start_deg=17, sweep_deg=sweep_deg)
    true = radius * np.radians(sweep_deg)
    # Smoothing over 9 px cuts a bend of 40 px radius by 0.1 %; the ends count as above.
    assert lengths(paper([points], cnr=CNR)) == [pytest.approx(true, abs=2 * END_PX + 0.01 * true)]


def test_a_full_ring_is_one_closed_line() -> None:
    ring = arc((200, 200), radius_px=80, start_deg=0, sweep_deg=360)
    # 2 %: a ring is cut open anywhere and the cut may be bridged or left open.
    assert sum(lengths(paper([ring], cnr=CNR))) == pytest.approx(2 * np.pi * 80, rel=0.02)


# --- crossings --------------------------------------------------------------------------


@pytest.mark.parametrize(("one_deg", "two_deg"), [(0, 90), (20, 80), (10, 40), (30, 50), (0, 10)])
def test_crossing_lines_keep_both_their_lengths(one_deg: int, two_deg: int) -> None:
    picture = paper(
        [straight((200, 200), angle_deg=a, length_px=LENGTH) for a in (one_deg, two_deg)], cnr=CNR
    )
    # Two lines, not four arms or two hooks.
    assert lengths(picture) == [pytest.approx(LENGTH, abs=2 * END_PX + 1)] * 2


def test_a_t_is_two_lines() -> None:
    picture = paper(
        [
            straight((200, 200), angle_deg=0, length_px=LENGTH),
            straight((260, 200), angle_deg=90, length_px=120),
        ],
        cnr=CNR,
    )
    assert lengths(picture) == [
        pytest.approx(LENGTH, abs=2 * END_PX + 1),
        # The foot ends inside the bar's own answer, up to half a kernel early.
        pytest.approx(120, abs=END_PX + 5),
    ]


def test_the_arms_of_a_y_add_up() -> None:
    arms = [
        line((200, 200), (200 + 120 * np.sin(t), 200 + 120 * np.cos(t))) for t in np.radians([90, 210, 330])
    ]
    # 4 %: an end for each arm, and up to half a kernel lost where the three meet.
    assert sum(lengths(paper(arms, cnr=CNR))) == pytest.approx(360, rel=0.04)


@pytest.mark.parametrize("gap", [4, 5, 6, 8, 12, 20])
@pytest.mark.parametrize("angle_deg", [0.0, 30.0])
def test_neighbours_are_told_apart(gap: int, angle_deg: float) -> None:
    turn = np.radians(angle_deg)
    aside = gap / 2 * np.array([np.cos(turn), -np.sin(turn)])
    pair = [straight(tuple(200 + s * aside), angle_deg=angle_deg, length_px=LENGTH) for s in (-1, 1)]
    found = lengths(paper(pair, cnr=CNR))
    # 3 %: ends as above, and a step aside now and then where the lines nearly touch.
    assert sum(found) == pytest.approx(2 * LENGTH, rel=0.03)


# --- linking ----------------------------------------------------------------------------


@pytest.mark.parametrize("angle_deg", [0, 20, 45, 70, 90, 130])
def test_points_of_a_line_become_one_chain(angle_deg: int) -> None:
    turn = np.radians(angle_deg)
    ends = [np.array([60, 60]) + s * 40 * np.array([np.sin(turn), np.cos(turn)]) for s in (-1, 1)]
    found = crest(line(*ends), angle_deg=angle_deg)
    (chain,) = link(found, shape=(121, 121)).lines()
    # Each point once; on a slope a second pixel beside the first may be passed over.
    assert len(chain) > 0.8 * len(found.pixels)
    assert len(np.unique(chain, axis=0)) == len(chain)


def test_linking_does_not_depend_on_the_order_of_the_points() -> None:
    response, _ = line_response(
        stabilise(paper([straight(CENTRE, angle_deg=33, length_px=LENGTH)]), gain=1.0)
    )
    found = ridge_points(response, response > 3.0)
    mixed = np.random.default_rng(0).permutation(len(found.pixels))
    other = RidgePoints(
        pixels=found.pixels[mixed],
        points=found.points[mixed],
        angle_rad=found.angle_rad[mixed],
        response=found.response[mixed],
    )
    one, two = (
        sorted(polyline_length_px(c) for c in link(f, shape=(400, 400)).lines()) for f in (found, other)
    )
    np.testing.assert_allclose(one, two, rtol=1e-9)


def test_a_ring_of_points_is_walked_once_round() -> None:
    turn = np.linspace(0, 2 * np.pi, 200, endpoint=False)
    ring = 50 + 30 * np.column_stack([np.sin(turn), np.cos(turn)])
    found = crest(ring, angle_deg=0)
    along = np.arctan2(*(found.points - 50).T[::-1])  # of the tangent, which stands on the radius
    found = replace(found, angle_rad=np.round((-along % np.pi) * 16 / np.pi) % 16 * np.pi / 16)
    (chain,) = link(found, shape=(100, 100)).lines()
    assert len(np.unique(chain, axis=0)) == len(chain) > 0.8 * len(found.pixels)
    # neighbours along the ring, up to two pixels apart each way
    assert np.abs(np.diff(chain, axis=0)).max() <= 3


def test_parallel_rows_of_points_are_not_linked_across() -> None:
    rows = np.vstack([line((50, 10), (50, 80)), line((53, 10), (53, 80))])
    chains = link(crest(rows, angle_deg=0), shape=(100, 100)).lines()
    assert sorted(len(c) for c in chains) == [71, 71]
    for chain in chains:
        assert len(np.unique(chain[:, 0])) == 1


SHORT: dict[str, Any] = {"gap_px": GAP_PX, "shortest_px": 14}


@pytest.mark.parametrize("count", [0, 1])
def test_too_few_points_make_no_line(count: int) -> None:
    points = np.full((count, 2), 5.0)
    assert len(link(crest(points, angle_deg=0), shape=(20, 20))) == 0
    assert len(trace(crest(points, angle_deg=0), shape=(20, 20), **SHORT)) == 0


def test_short_pieces_are_dropped() -> None:
    assert len(trace(crest(line((50, 10), (50, 19)), angle_deg=0), shape=(100, 100), **SHORT)) == 0
    assert len(trace(crest(line((50, 10), (50, 40)), angle_deg=0), shape=(100, 100), **SHORT)) == 1


# --- bridging ---------------------------------------------------------------------------

OPTIONS: dict[str, Any] = {"lever_px": 20, "turn_deg": 15.0}


def bridged(pieces: list[NDArray[np.float64]], *, gap_px: int) -> list[NDArray[np.float64]]:
    return bridge(Paths.of(pieces), gap_px=gap_px, **OPTIONS).lines()


def test_a_gap_in_a_line_is_bridged() -> None:
    pieces = [line((50, 10), (50, 60)), line((50, 80), (50, 140))]
    (whole,) = bridged(pieces, gap_px=25)
    assert polyline_length_px(whole) == pytest.approx(130.0)
    assert len(bridged(pieces, gap_px=15)) == 2


@pytest.mark.parametrize("flip", [(False, True), (True, False), (True, True)])
def test_pieces_may_run_either_way(flip: tuple[bool, bool]) -> None:
    pieces = [line((50, 10), (50, 60)), line((50, 65), (50, 140))]
    turned = [p[::-1] if f else p for p, f in zip(pieces, flip, strict=True)]
    (whole,) = bridged(turned, gap_px=25)
    assert polyline_length_px(whole) == pytest.approx(130.0)


def test_straight_on_goes_before_round_the_corner() -> None:
    """Four arms of a crossing join crosswise."""
    arms = [
        line((100, 20), (100, 92)),
        line((100, 108), (100, 180)),
        line((20, 100), (92, 100)),
        line((108, 100), (180, 100)),
    ]
    joined = bridged(arms, gap_px=30)
    assert sorted(polyline_length_px(p) for p in joined) == [pytest.approx(160.0)] * 2
    for path in joined:
        assert np.ptp(path, axis=0).min() == 0  # none turns the corner


def test_lines_beside_each_other_are_not_joined() -> None:
    beside = [line((50, 10), (50, 60)), line((58, 62), (58, 120))]
    assert len(bridged(beside, gap_px=25)) == 2


def test_three_pieces_become_one_and_no_ring_is_made() -> None:
    pieces = [line((50, 10), (50, 40)), line((50, 45), (50, 80)), line((50, 85), (50, 120))]
    (whole,) = bridged(pieces, gap_px=10)
    assert polyline_length_px(whole) == pytest.approx(110.0)
    assert (np.diff(whole[:, 1]) * np.sign(whole[-1, 1] - whole[0, 1]) > 0).all()


def test_bridging_nothing_or_one() -> None:
    only = line((1, 1), (1, 30))
    assert bridged([], gap_px=10) == []
    np.testing.assert_array_equal(bridged([only], gap_px=10)[0], only)
