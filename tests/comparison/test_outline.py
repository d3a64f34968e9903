"""Round hotspots, frayed ones, and several lights that melted into one."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from defectmap.comparison.averaged import Sheet
from defectmap.comparison.compare import compare_shots
from defectmap.comparison.outline import PERIODS, bulges, height_of, outline
from defectmap.comparison.tuning import BULGE_SHARE, LEAST_BULGE
from tests.comparison import phantoms

RADIUS_PX = 60.0


def hotspot(edge: NDArray[np.float64], *, squeeze: float = 1.0, column: float = 250.0) -> Sheet:
    """Light that falls off from an edge given as its distance, in radii, at each of 360 degrees."""
    rows, columns = np.mgrid[:400, :500] - np.array([200.0, column])[:, None, None]
    columns = columns / squeeze
    turn = np.degrees(np.arctan2(rows, columns)) % 360
    share = np.hypot(rows, columns) / RADIUS_PX / np.interp(turn, np.arange(360), edge, period=360)
    light = np.minimum(1.0, np.exp(-3 * (share - 1))).astype(np.float32)
    nowhere = np.zeros_like(light)
    return Sheet(light=light, clipped=nowhere, hidden=nowhere, shrink=1, row=200.0, column=column)


def waves(count: int, height: float) -> NDArray[np.float64]:
    result: NDArray[np.float64] = 1 + height * np.cos(count * np.radians(np.arange(360)))
    return result


def frayed(seed: int, spread: float) -> NDArray[np.float64]:
    rng = np.random.default_rng(seed)
    parts = [
        rng.rayleigh(spread) * np.cos(k * np.radians(np.arange(360)) + rng.uniform(0, 6.3)) for k in PERIODS
    ]
    result: NDArray[np.float64] = 1 + np.sum(parts, axis=0)
    return result


@pytest.mark.parametrize(("count", "height"), [(3, 0.05), (4, 0.04), (6, 0.05), (8, 0.04)])
def test_even_bulges_are_counted_and_measured(count: int, height: float) -> None:
    heights = outline(hotspot(waves(count, height)), radius_px=RADIUS_PX)
    found = bulges(heights)
    assert found is not None
    assert found.count == count
    # light falls off with the share of the edge, so each level has the edge's own shape; smoothing takes some
    assert found.height == pytest.approx(height, rel=0.15)
    assert found.share > 0.9


@pytest.mark.parametrize("squeeze", [1.0, 1.3, 1.6])
def test_a_disc_or_an_ellipse_has_none(squeeze: float) -> None:
    heights = outline(hotspot(np.ones(360), squeeze=squeeze), radius_px=RADIUS_PX)
    assert heights.max() < 0.01  # pixels and smoothing
    assert bulges(heights) is None


def test_small_bulges_do_not_count() -> None:
    assert bulges(outline(hotspot(waves(5, 0.4 * LEAST_BULGE)), radius_px=RADIUS_PX)) is None


def test_fraying_is_not_taken_for_bulges() -> None:
    # Fisher (1929): of n even ordinates the largest holds a share above g by chance in n (1 - g)^(n - 1) of
    # all cases, here one in a thousand
    alarms = [bulges(outline(hotspot(frayed(seed, 0.02)), radius_px=RADIUS_PX)) for seed in range(40)]
    assert not any(alarms)
    assert len(PERIODS) * (1 - BULGE_SHARE) ** (len(PERIODS) - 1) < 1e-3


def test_fishers_bound_on_plain_noise() -> None:
    # ten ordinates of white noise are exponential; g = 0.445 is the 5 % point in Fisher's table for n = 10
    power = np.random.default_rng(3).exponential(size=(20_000, 10))
    share = power.max(axis=1) / power.sum(axis=1)
    assert (share > 0.4450).mean() == pytest.approx(0.05, abs=0.005)  # three standard errors
    assert (share > BULGE_SHARE).mean() < 2e-3


def test_outline_cut_by_the_frame_says_nothing() -> None:
    heights = outline(hotspot(waves(3, 0.1), column=50.0), radius_px=RADIUS_PX)
    assert np.isnan(heights).all()
    assert bulges(heights) is None
    assert math.isnan(height_of(heights, 3))


def test_three_lights_are_not_one() -> None:
    one, three = phantoms.before(), phantoms.shot(phantoms.corrected(), **{**phantoms.BY_HAND, "lamps": 3})
    assert three.measured.hotspot.lamps == 3  # the phantom's truth; melted, they are found as one
    for before, after in ((one, three), (three, one)):
        said = compare_shots([before], [after]).comparable
        assert said.verdict == "no"
        assert any(reason.code == "melted lights" and reason.values["count"] == 3 for reason in said.reasons)


def test_far_apart_in_exposure_bulges_ask_for_care() -> None:
    # the brighter outline lies farther from the lights, where their bulges fade
    three = phantoms.shot(phantoms.corrected(), **{**phantoms.BY_HAND, "lamps": 3, "ev": -0.9})
    reasons = compare_shots([phantoms.before()], [three]).comparable.reasons
    assert [one.verdict for one in reasons if one.code == "melted lights"] == ["with care"]


def test_three_lights_are_three_lights() -> None:
    shots = [
        phantoms.shot(phantoms.swirled(), seed=1, lamps=3, name="before.jpg"),
        phantoms.shot(phantoms.corrected(), **{**phantoms.BY_HAND, "lamps": 3}),
    ]
    assert not any(
        reason.topic == "lamp" for reason in compare_shots(shots[:1], shots[1:]).comparable.reasons
    )
