"""What two photographs of one paint differ by, that is none of the paint."""

import math
from dataclasses import replace

import pytest

from defectmap.comparison.doubt import moved_doubt, strength_doubt
from defectmap.comparison.matching import StrengthStep
from defectmap.comparison.processing import bends_halo
from tests.comparison.test_matching import POSE
from tests.comparison.test_processing import EVEN, grained, sides

STEADY = StrengthStep(step=0.1, error=0.02)
PLAIN, LIFTED = grained(1.0, 1.0, 1.0), grained(1.4, 1.8, 1.0)


@pytest.mark.parametrize(
    ("down_mm", "right_mm", "doubt"), [(0.0, 0.0, 0.0), (1.8, 2.4, 0.0), (3.0, 4.0, 0.048)]
)
def test_a_lamp_that_lies_elsewhere_lights_other_grooves(
    down_mm: float, right_mm: float, doubt: float
) -> None:
    # 12 thousandths for a mm beyond the 3 mm of a hand, as squares: 5² - 3² = 4²
    assert moved_doubt(replace(POSE, down_mm=down_mm, right_mm=right_mm)) == pytest.approx(doubt)
    assert moved_doubt(replace(POSE, down_mm=down_mm, right_mm=right_mm, by="hotspot")) == 0.0


@pytest.mark.parametrize(
    ("first", "second", "tone", "seen", "bent"),
    [
        (PLAIN, LIFTED, 0.7, STEADY, True),
        (LIFTED, PLAIN, 1 / 0.7, STEADY, True),
        (PLAIN, LIFTED, 1 / 0.7, STEADY, False),  # steeper, and yet coarser: another lamp
        (PLAIN, LIFTED, 0.7, None, False),  # no marks that say that the light is the same
        (PLAIN, PLAIN, 0.7, STEADY, False),
    ],
)
def test_a_halo_is_bent_by_processing_only_with_its_grain(
    first: object, second: object, tone: float, seen: StrengthStep | None, bent: bool
) -> None:
    halo = replace(EVEN, tone=tone)
    assert bends_halo(*sides(first, second), halo, seen) is bent  # type: ignore[arg-type]


def test_a_curve_that_may_work_locally_is_carried_besides() -> None:
    halo = replace(EVEN, tone=0.7)
    bare, bent = (strength_doubt(*sides(PLAIN, side), halo, seen=STEADY) for side in (PLAIN, LIFTED))
    assert bent**2 - bare**2 == pytest.approx((0.25 * math.log(0.7)) ** 2)
