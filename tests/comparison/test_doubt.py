"""What two photographs of one paint differ by, that is none of the paint."""

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from defectmap.comparison.blocks import BlockTable
from defectmap.comparison.common import CommonTables
from defectmap.comparison.doubt import lamp_share, strength_doubt
from defectmap.comparison.interval import student_factor
from defectmap.comparison.matching import StrengthStep
from defectmap.comparison.place_rules import lamp_moved
from defectmap.comparison.processing import bends_halo
from defectmap.comparison.sampling import CaptureScatter, PairDoubt, block_draws, ratio_interval
from tests.comparison.test_matching import POSE
from tests.comparison.test_processing import EVEN, grained, sides

STEADY = StrengthStep(step=0.1, error=0.02)
PLAIN, LIFTED = grained(1.0, 1.0, 1.0), grained(1.4, 1.8, 1.0)


@pytest.mark.parametrize(
    ("down_mm", "right_mm", "share"), [(0.0, 0.0, 0.0), (3.0, 4.0, 0.165), (30.0, 40.0, 0.3)]
)
def test_a_lamp_that_lies_elsewhere_lights_other_grooves(
    down_mm: float, right_mm: float, share: float
) -> None:
    # 0.3 (1 - exp(-(5 / 5.6)²)) = 0.165
    moved = replace(POSE, down_mm=down_mm, right_mm=right_mm)
    assert lamp_share(moved, calibrated=True) == pytest.approx(share, abs=5e-4)


def test_a_lamp_of_which_nothing_is_known_may_have_moved() -> None:
    assert lamp_share(replace(POSE, by="hotspot"), calibrated=True) == pytest.approx(0.3)
    assert lamp_share(POSE, calibrated=False) == pytest.approx(0.3)


@pytest.mark.parametrize("iso", [25.0, 400.0])
def test_another_sensitivity_is_carried(iso: float) -> None:
    known, untold = (strength_doubt(*sides(iso=one), EVEN) for one in (iso, None))
    assert known == pytest.approx(math.hypot(0.02, 0.05 * math.log(4)))
    assert untold == pytest.approx(0.08)  # a file that does not tell it is of another camera


def test_two_photographs_scatter_at_least_as_their_lamp_has_them() -> None:
    """Sectors all alike say nothing; 25 and 100 equal marks then scatter by the share over each number."""
    tables = CommonTables(before=marked(100), after=marked(25))
    still = CaptureScatter(relative=1e-6, df=4)
    halves = [
        math.log(found.high / found.ratio) / student_factor(found.df or math.inf)
        for share in (0.0, 0.3)
        for draws in [block_draws(tables, None, doubt=PairDoubt(lamp_share=share))]
        for found in [ratio_interval([draws], capture=still)]
    ]
    assert halves[0] < 1e-5
    assert halves[1] == pytest.approx(math.sqrt(0.3 * (1 / 25 + 1 / 100)), rel=1e-3)


def marked(marks: int) -> BlockTable:
    """So many equal marks, evenly round the hotspot."""
    area = np.ones((36, 2))
    return BlockTable(area_cm2=area, length_mm=np.ones((3, 36, 2)), pieces_mm=np.full(marks, 4.0))


@pytest.mark.parametrize(
    ("down_mm", "by", "said"), [(4.4, "marks", 0), (4.6, "marks", 1), (4.6, "hotspot", 0)]
)
def test_a_lamp_that_moved_far_is_said(down_mm: float, by: str, said: int) -> None:
    shot = SimpleNamespace(calibrated=True)
    moved = replace(POSE, down_mm=down_mm, right_mm=0.0, by=by)  # type: ignore[arg-type]
    assert len(list(lamp_moved(shot, shot, moved))) == said  # type: ignore[arg-type]


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
