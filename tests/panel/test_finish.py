"""Densities and the finish score: sums that can be done by hand, and laws."""

import dataclasses

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from defectmap.panel.finish import densities, finish_score, ring_densities
from defectmap.panel.measurement import Density, Hotspot
from defectmap.panel.tuning import SCRATCH_HALF, SWIRL_HALF
from tests.measurements import straight_mark

HOTSPOT = Hotspot(row=0.0, column=0.0, radius_px=10.0, lamps=1)

# --- densities --------------------------------------------------------------------------


def test_ten_lines_of_20_mm_in_4_cm2_are_50_mm_per_cm2() -> None:
    marks = [straight_mark("swirl", (10.0 * i, 0.0), (10.0 * i, 200.0)) for i in range(10)]
    found = densities(marks, area_cm2=4.0)
    assert found.swirl == pytest.approx(50.0)
    assert (found.scratch, found.trail) == (0.0, 0.0)


def test_each_kind_has_its_own_density_and_all_is_their_sum() -> None:
    marks = [
        straight_mark("swirl", (0.0, 0.0), (0.0, 100.0)),
        straight_mark("scratch", (0.0, 0.0), (0.0, 40.0)),
        straight_mark("scratch", (9.0, 0.0), (9.0, 40.0)),
        straight_mark("trail", (0.0, 0.0), (0.0, 20.0)),
    ]
    found = densities(marks, area_cm2=2.0)
    assert (found.swirl, found.scratch, found.trail) == pytest.approx((5.0, 4.0, 1.0))
    assert found.all == pytest.approx(10.0)


def test_densities_of_two_sets_add_up() -> None:
    one = [
        straight_mark("swirl", (0.0, 0.0), (50.0, 70.0)),
        straight_mark("scratch", (0.0, 0.0), (5.0, 70.0)),
    ]
    two = [straight_mark("swirl", (30.0, 0.0), (50.0, 70.0))]
    both, first, second = (densities(marks, area_cm2=3.0) for marks in ([*one, *two], one, two))
    assert both.all == pytest.approx(first.all + second.all)


@pytest.mark.parametrize("area_cm2", [0.0, 5.0])
def test_no_marks_or_no_area_is_no_density(area_cm2: float) -> None:
    assert densities([], area_cm2=area_cm2).all == 0.0
    assert densities([straight_mark("swirl", (0.0, 0.0), (0.0, 9.0))], area_cm2=0.0).all == 0.0


# --- rings ------------------------------------------------------------------------------


def test_rings_hold_all_the_zone_and_all_the_marks() -> None:
    zone = np.zeros((400, 600), np.bool_)
    zone[40:360, 40:560] = True
    hotspot = Hotspot(row=180.0, column=300.0, radius_px=20.0, lamps=1)
    marks = [
        straight_mark("swirl", (50.0, 60.0), (340.0, 500.0)),
        straight_mark("scratch", (200.0, 60.0), (200.0, 540.0)),
    ]
    rings = ring_densities(marks, zone, hotspot, px_per_mm=10.0)
    assert sum(r.length_mm for r in rings) == pytest.approx(sum(m.length_mm for m in marks))
    # 1 %: the area is counted on every fourth pixel each way.
    assert sum(r.area_cm2 for r in rings) == pytest.approx(zone.sum() / 100 / 100, rel=0.01)
    for ring in rings:
        assert ring.outer_mm - ring.inner_mm == pytest.approx(5.0)


def test_a_mark_counts_in_the_ring_where_it_lies() -> None:
    middle = Hotspot(row=200.0, column=200.0, radius_px=10.0, lamps=1)
    mark = straight_mark("swirl", (200.0, 310.0), (200.0, 340.0))  # 11 to 14 mm from the hotspot
    rings = ring_densities([mark], np.ones((401, 401), np.bool_), middle, px_per_mm=10.0)
    full = [r for r in rings if r.length_mm > 0]
    assert [(r.inner_mm, r.outer_mm) for r in full] == [(10.0, 15.0)]
    assert full[0].length_mm == pytest.approx(3.0)
    ring_cm2 = np.pi * (1.5**2 - 1.0**2)
    # 2 %: counted on every fourth pixel.
    assert full[0].area_cm2 == pytest.approx(ring_cm2, rel=0.02)
    assert full[0].mm_per_cm2 == pytest.approx(3.0 / ring_cm2, rel=0.02)


def test_without_a_scale_rings_are_100_px_wide() -> None:
    rings = ring_densities([], np.ones((300, 300), np.bool_), HOTSPOT, px_per_mm=1.0)
    assert [r.inner_mm for r in rings][:3] == [0.0, 100.0, 200.0]


def test_an_empty_zone_has_no_rings() -> None:
    assert ring_densities([], np.zeros((50, 50), np.bool_), HOTSPOT, px_per_mm=10.0) == ()


def test_marks_farther_out_than_the_zone_are_not_lost() -> None:
    zone = np.zeros((300, 300), np.bool_)
    zone[:60, :60] = True
    mark = straight_mark("swirl", (0.0, 10.0), (0.0, 80.0))
    rings = ring_densities([mark], zone, HOTSPOT, px_per_mm=10.0)
    assert max(r.outer_mm for r in rings) >= 8.0
    assert sum(r.length_mm for r in rings) == pytest.approx(7.0)


# --- the score --------------------------------------------------------------------------

amounts = st.floats(0.0, 500.0)
NOTHING = {"swirl": 0.0, "scratch": 0.0, "trail": 0.0, "longest": 0.0, "haze": 0.0, "spots": 0.0}
inputs = st.fixed_dictionaries(dict.fromkeys(NOTHING, amounts))


def score(values: dict[str, float]) -> float:
    return finish_score(
        Density(swirl=values["swirl"], scratch=values["scratch"], trail=values["trail"]),
        longest_scratch_mm=values["longest"],
        haze=values["haze"],
        spots_per_cm2=values["spots"],
    )


@given(inputs, st.sampled_from(sorted(NOTHING)), st.floats(0.0, 100.0))
def test_more_of_anything_never_raises_the_score(values: dict[str, float], what: str, more: float) -> None:
    assert score(values | {what: values[what] + more}) <= score(values)


@given(inputs, st.sampled_from(["swirl", "scratch", "trail", "longest", "spots"]), st.floats(0.01, 100.0))
def test_more_marks_or_spots_always_lower_the_score(values: dict[str, float], what: str, more: float) -> None:
    assert score(values | {what: values[what] + more}) < score(values)


@given(inputs)
def test_score_lies_between_0_and_100_and_is_100_only_for_nothing(values: dict[str, float]) -> None:
    found = any(value > 1e-9 for key, value in values.items() if key != "haze")
    assert 0 < score(values) <= 100
    if found:
        assert score(values) < 100


def test_nothing_found_scores_100() -> None:
    assert score(NOTHING) == 100.0
    # Haze is reported beside the score: its zero depends on the lamp.
    assert score(NOTHING | {"haze": 0.5}) == 100.0


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        ({"swirl": SWIRL_HALF}, 50.0),
        ({"trail": SWIRL_HALF}, 50.0),
        ({"scratch": SCRATCH_HALF}, 50.0),
        ({"longest": 60.0}, 50.0),
        ({"spots": 1.0}, 50.0),
        ({"swirl": 2 * SWIRL_HALF, "scratch": SCRATCH_HALF}, 25.0),
        ({"swirl": 6.0, "scratch": 1.5, "longest": 30.0, "spots": 0.5}, 100 / 3),
    ],
)
def test_score_is_the_published_formula(values: dict[str, float], expected: float) -> None:
    assert score(NOTHING | values) == pytest.approx(expected)


@given(inputs, amounts)
def test_a_scratch_weighs_more_than_a_swirl_of_the_same_length(
    values: dict[str, float], length: float
) -> None:
    assume(length > 1e-6)
    scratched = score(values | {"scratch": values["scratch"] + length})
    assert scratched < score(values | {"swirl": values["swirl"] + length})


def test_density_cannot_be_changed_afterwards() -> None:
    found = densities([], area_cm2=1.0)
    with pytest.raises(dataclasses.FrozenInstanceError, match="swirl"):
        found.swirl = 1.0  # type: ignore[misc]
