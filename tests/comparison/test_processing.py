"""What was done to a photograph after it was taken."""

import math
from dataclasses import replace
from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from defectmap.comparison.doubt import strength_doubt
from defectmap.comparison.grain_step import LightClass
from defectmap.comparison.halo import HaloDifference
from defectmap.comparison.matching import StrengthStep
from defectmap.comparison.processing import Side, processing_reasons
from defectmap.comparison.processing_traces import Processing, processing_of
from defectmap.comparison.settings_step import other_camera
from defectmap.panel.measurement import PanelMeasurement, PhotoFacts, Sharpening
from tests.comparison import made

PLAIN = Processing(overshoot=-0.01, grain_codes=1.0, grain_correlation=0.3)
EVEN = HaloDifference(stops=0.0, shape=0.0, radius_steps=0.0, body_stops=0.0)
FACTS = PhotoFacts(name="a.jpg", sha256="0" * 64, width_px=1200, height_px=900, iso=100.0, exposure_s=0.01)


def codes_to_light(codes: NDArray[np.floating]) -> NDArray[np.float32]:
    share = np.clip(np.round(codes), 0, 255) / 255  # IEC 61966-2-1
    light = np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
    return np.asarray(light, np.float32)


def lined(*, denoise: bool = False) -> tuple[NDArray[np.float32], PanelMeasurement]:
    """Twenty level lines on grey with grain, as codes, smoothed as phones do it."""
    rng = np.random.default_rng(2)
    codes = np.full(made.SIZE_PX, 60.0)
    rows = range(40, 860, 41)
    for row in rows:
        codes[row, 60:1100] += 120
    codes = np.asarray(cv2.GaussianBlur(codes, (0, 0), 0.8) + rng.normal(0, 1.2, codes.shape), np.float64)
    if denoise:
        codes = np.asarray(cv2.GaussianBlur(codes, (0, 0), 1.5), np.float64)
    marks = [made.mark(np.column_stack([np.full(1040, row), np.arange(60, 1100)])) for row in rows]
    bare = made.photograph(made.panel(1, 0))
    whole = np.ones(made.SIZE_PX, np.bool_)
    return codes_to_light(codes), replace(bare, marks=tuple(marks), zone=whole)


def test_sharpening_is_what_the_measurement_read_of_it() -> None:
    light, measured = lined()
    sharp = replace(measured, sharpening=Sharpening(overshoot=0.08, amount=1.0, sd_px=1.0))
    assert processing_of(light, sharp).overshoot == 0.08
    assert math.isnan(processing_of(light, measured).overshoot)


def test_grain_that_sharpening_coarsened_is_not_told_or_carried_besides() -> None:
    second = replace(grained(1.5, 1.5, 1.5), overshoot=0.08)
    (reason,) = processing_reasons(*sides(grained(1.0, 1.0, 1.0), second), EVEN)
    assert reason.code == "sharpened"
    assert strength_doubt(*sides(grained(1.0, 1.0, 1.0), second), EVEN) == pytest.approx(
        math.hypot(0.02, 0.6 * 0.09)
    )
    finer = replace(grained(0.6, 0.6, 0.6), overshoot=0.08)  # smoothed as well: sharpening leaves none finer
    assert strength_doubt(*sides(grained(1.0, 1.0, 1.0), finer), EVEN) > 0.25


def test_noise_reduction_leaves_a_grain_below_the_steps() -> None:
    plain, smooth = (processing_of(*lined(denoise=done)) for done in (False, True))
    # rounding adds 1/12 of a step squared to the grain of 1.2 steps
    assert plain.grain_codes == pytest.approx(np.sqrt(1.2**2 + 1 / 12), rel=0.1)
    assert not plain.smoothed
    assert smooth.smoothed


def sides(first: Processing = PLAIN, second: Processing = PLAIN, **facts: Any) -> tuple[Side, Side]:
    other = replace(FACTS, **facts)
    return Side(name="before", facts=FACTS, found=first), Side(name="after", facts=other, found=second)


@pytest.mark.parametrize(
    ("change", "code"),
    [({"overshoot": 0.06}, "sharpened"), ({"grain_codes": 0.3, "grain_correlation": 0.8}, "smoothed")],
)
def test_each_trace_is_named_with_its_side(change: dict[str, Any], code: str) -> None:
    second = replace(PLAIN, **change)
    (reason,) = processing_reasons(*sides(PLAIN, second), EVEN)
    assert (reason.code, reason.values, reason.verdict) == (code, {"side": "after"}, "with care")
    (turned,) = processing_reasons(*sides(second, PLAIN), EVEN)
    assert turned.values == {"side": "before"}
    assert strength_doubt(*sides(PLAIN, second), EVEN) > 2 * strength_doubt(*sides(), EVEN)


def grained(*codes: float) -> Processing:
    """Grain at brightness after brightness, 100 blocks each."""
    return replace(PLAIN, grain={light: LightClass(each, 100) for light, each in enumerate(codes)})


@pytest.mark.parametrize(
    ("second", "side"),
    [
        (grained(0.6, 0.6, 0.6), "after"),
        (grained(1.5, 1.5, 1.5), "before"),
        (grained(0.8, 1.0, 1.2), "after"),  # smoothed and grain put back: the same on average
    ],
)
def test_grain_that_the_settings_do_not_explain(second: Processing, side: str) -> None:
    (reason,) = processing_reasons(*sides(grained(1.0, 1.0, 1.0), second), EVEN)
    assert (reason.code, reason.values["side"], reason.verdict) == ("grain differs", side, "with care")
    assert strength_doubt(*sides(grained(1.0, 1.0, 1.0), second), EVEN) > 2 * strength_doubt(*sides(), EVEN)


@pytest.mark.parametrize(
    ("iso", "codes", "said"), [(400.0, 2.0, False), (400.0, 0.7, True), (50.0, 2.0, True)]
)
def test_shot_noise_grows_with_the_root_of_the_sensitivity(iso: float, codes: float, said: bool) -> None:
    # four times the sensitivity: twice the grain (EMVA Standard 1288); less than before it was smoothed
    second = grained(codes, codes, codes)
    found = [one.code for one in processing_reasons(*sides(grained(1.0, 1.0, 1.0), second, iso=iso), EVEN)]
    assert found == (["grain differs"] if said else [])


def test_grain_says_less_where_the_sensitivity_is_not_told() -> None:
    second = grained(0.7, 0.7, 0.7)
    assert list(processing_reasons(*sides(grained(1.0, 1.0, 1.0), second, iso=None), EVEN)) == []


def test_marks_that_both_show_say_what_is_carried() -> None:
    smooth = grained(0.4, 0.4, 0.4)
    alike = StrengthStep(step=0.0, error=0.02)
    weaker = StrengthStep(step=-0.3, error=0.02)
    unseen, harmless, harmful = (
        strength_doubt(*sides(grained(1.0, 1.0, 1.0), smooth), EVEN, seen=seen)
        for seen in (None, alike, weaker)
    )
    assert harmless < 0.05 < unseen
    assert harmful == pytest.approx(0.3 * 0.35, abs=0.005)  # nearly all of it, beside a little of the camera


def test_what_both_have_is_no_reason() -> None:
    sharp = replace(PLAIN, overshoot=0.06)
    assert list(processing_reasons(*sides(sharp, sharp), EVEN)) == []
    assert strength_doubt(*sides(sharp, sharp), EVEN) == strength_doubt(*sides(), EVEN)


def test_a_smaller_copy_without_notes() -> None:
    bare: dict[str, Any] = {"iso": None, "exposure_s": None, "width_px": 800, "height_px": 600}
    assert [one.code for one in processing_reasons(*sides(**bare), EVEN)] == ["smaller copy"]
    assert list(processing_reasons(*sides(width_px=800, height_px=600), EVEN)) == []


def test_a_flatter_curve_is_named_with_its_side() -> None:
    flat = replace(EVEN, tone=0.64, toned=True)
    (reason,) = processing_reasons(*sides(), flat)
    assert (reason.code, reason.values["side"]) == ("tone curve", "after")
    (turned,) = processing_reasons(*sides(), replace(EVEN, tone=1 / 0.64, toned=True))
    assert turned.values["side"] == "before"


def test_another_camera() -> None:
    assert not other_camera(FACTS, replace(FACTS, iso=400.0))
    assert not other_camera(FACTS, replace(FACTS, width_px=900, height_px=1200))  # held upright
    assert other_camera(FACTS, replace(FACTS, width_px=1600, height_px=1200))
    assert other_camera(replace(FACTS, camera="A"), replace(FACTS, camera="B"))
