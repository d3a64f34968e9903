"""One limit of line light for both photographs."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from defectmap.comparison.compare import compare
from defectmap.comparison.halo import HaloDifference
from defectmap.comparison.line_light import (
    at_limit,
    common_limit_um,
    line_light_factor,
    mean_step,
    strength_slope,
)
from defectmap.panel.measurement import Mark, PanelMeasurement
from tests import phantom
from tests.comparison import made, phantoms


def line(um: list[float]) -> Mark:
    """10 mm of a level mark at 10 px/mm, as strong as told, each value for an even share of it."""
    points = np.column_stack([np.full(101, 300.0), 400.0 + np.arange(101)])
    strong = np.repeat(um, math.ceil(101 / len(um)))[:101].astype(np.float32)
    return replace(made.mark(points), um=strong, beside=np.full(101, 0.1, np.float32))


def measured(*marks: Mark, faint: tuple[Mark, ...] = (), **limits: float) -> PanelMeasurement:
    bare = made.photograph(made.panel(1, 0))
    limit = replace(bare.detection_limit, **limits)
    return replace(bare, marks=marks, faint_marks=faint, detection_limit=limit)


def length(marks: tuple[Mark, ...]) -> float:
    return sum(mark.length_mm for mark in marks)


def test_the_standard_is_what_was_measured() -> None:
    shot = measured(line([150.0]))
    assert at_limit(shot) is shot.marks


def test_a_lower_limit_counts_fainter_marks_too() -> None:
    shot = measured(line([150.0]), faint=(line([80.0, 40.0]),))
    assert length(at_limit(shot, limit_um=60.0)) == pytest.approx(15, abs=0.15)
    assert length(at_limit(shot, limit_um=160.0)) == 0


def test_a_factor_is_met_by_its_mean_over_the_marks() -> None:
    def growing(points: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.exp(points[:, 1] / 1000)  # columns 400 to 500

    assert mean_step([line([150.0])], growing) == pytest.approx(0.45)
    assert mean_step([], growing) == mean_step([line([150.0])], None) == 0.0


def test_marks_of_an_older_record_are_taken_whole() -> None:
    shot = measured(made.mark(np.array([[300.0, 400.0], [300.0, 500.0]])))
    assert length(at_limit(shot, limit_um=60.0)) == pytest.approx(10)


def test_common_limit_is_the_worse_of_two() -> None:
    seen = [measured(equivalent_width_um=um) for um in (30.0, 55.0, 120.0, math.nan)]
    assert common_limit_um(seen[0], seen[1]) == 55.0
    assert common_limit_um(seen[0], seen[2]) is None  # fainter than the standard or none
    assert common_limit_um(seen[0], seen[3]) is None


def test_slope_of_a_power_law() -> None:
    # density above W falls as W^-0.5: half as much at four times the limit
    fall = {50: 8 * math.sqrt(2), 100: 8.0, 200: 8 / math.sqrt(2)}
    assert strength_slope(replace(measured(), strength=fall)) == pytest.approx(0.5)
    assert strength_slope(replace(measured(), strength={100: 0.0})) == pytest.approx(0.6)


def test_slope_is_the_same_from_either_side_unless_the_fainter_do_not_show() -> None:
    # steeper above the standard than below it: the difference across it; above alone where 50 um are unseen
    fall = {50: 10.0, 100: 8.0, 200: 4.0}
    assert strength_slope(replace(measured(equivalent_width_um=20.0), strength=fall)) == pytest.approx(
        math.log(2.5) / math.log(4)
    )
    assert strength_slope(replace(measured(equivalent_width_um=70.0), strength=fall)) == pytest.approx(1.0)


def test_haze_that_was_polished_off_raises_no_width() -> None:
    # the light beside marks fell to half at one exposure: a width there reads twice as much for the same line
    first, second = phantoms.evidence_of(haze=0.3), phantoms.evidence_of(haze=0.1)
    halo = halo_difference_of(at_mm=np.array([5.0, 60.0]), beside_stops=np.array([-1.0, -1.0]))
    factor = line_light_factor(first, second, halo)
    assert factor is not None
    points = np.array([first.hotspot]) + np.array([[0.0, 200.0]])
    assert factor(points) == pytest.approx([0.5])


@pytest.mark.slow
@pytest.mark.parametrize("seed", [0, 1])
def test_marks_that_nobody_touched_stay_where_haze_went(seed: int) -> None:
    """6 % of haze polished off black paint: the light beside marks falls to two thirds, their widths rise."""
    grooves = phantom.swirls(seed + 1, density_mm_per_cm2=60) + phantom.scratches(seed + 1, count=5)
    hand = phantom.Shot(size_px=(1050, 1330), px_per_mm=14.0, seed=1)
    again = replace(hand, seed=2, offset_mm=(1.0, -1.5), turn_deg=1.0, lamp_mm=(-6.0, 4.0, 480.0))
    clear = phantom.Panel(seed=3)
    before = phantom.photograph(grooves, hand, panel=replace(clear, haze=0.06)).jpeg
    after = phantom.photograph(grooves, again, panel=clear).jpeg
    assert before is not None
    assert after is not None
    found = compare(before, after, px_per_mm=14.0)
    own = found.spots[0]
    raw = 100 * (own.after.density.all / own.before.density.all - 1)
    change = found.change("density all")
    assert change.change_percent is not None
    assert not change.distinguishable
    assert raw > 7
    assert abs(change.change_percent) < 0.6 * raw


def test_another_camera_says_nothing_of_haze() -> None:
    first, second = phantoms.evidence_of(haze=0.3), phantoms.evidence_of(haze=0.1)
    halo = halo_difference_of(hazed=True, at_mm=np.array([5.0, 60.0]), beside_stops=np.array([-0.5, -0.5]))
    assert line_light_factor(first, second, halo) is not None
    for other in ({"hdr": True}, {"width_px": 3000}):
        facts = replace(second.facts, **other)
        assert line_light_factor(first, replace(second, facts=facts), halo) is None


def test_nothing_is_corrected_where_nothing_differs() -> None:
    same = phantoms.evidence_of(haze=0.3)
    assert line_light_factor(same, same, halo_difference_of()) is None


def test_a_curve_that_grain_says_nothing_of_is_carried_not_corrected() -> None:
    same = phantoms.evidence_of(haze=0.3)
    assert line_light_factor(same, same, halo_difference_of(tone=0.64, toned=True)) is None


def test_what_the_grain_says_of_a_curve_is_corrected() -> None:
    same = phantoms.evidence_of(haze=0.3)
    factor = line_light_factor(same, same, halo_difference_of(tone=0.64, toned=True, contrast=math.log(0.8)))
    assert factor is not None
    assert factor(np.zeros((1, 2))) == pytest.approx([1.25])
    local = line_light_factor(same, same, halo_difference_of(tone=0.64, toned=True, contrast=0.0))
    assert local is not None
    assert local(np.zeros((1, 2))) == pytest.approx([1.0])


def halo_difference_of(**values: Any) -> HaloDifference:
    return HaloDifference(**{"stops": 0.0, "shape": 0.0, "radius_steps": 0.0, "body_stops": 0.0, **values})
