"""What two photographs of one paint differ by, that is none of the paint."""

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from defectmap.comparison.blocks import BlockTable
from defectmap.comparison.common import CommonTables
from defectmap.comparison.doubt import moved_doubt, strength_doubt
from defectmap.comparison.matching import StrengthStep
from defectmap.comparison.place_rules import lamp_moved
from defectmap.comparison.processing import bends_halo
from tests.comparison.test_matching import POSE
from tests.comparison.test_processing import EVEN, grained, sides

STEADY = StrengthStep(step=0.1, error=0.02)
PLAIN, LIFTED = grained(1.0, 1.0, 1.0), grained(1.4, 1.8, 1.0)


def marked(marks: int) -> BlockTable:
    """So many equal marks, evenly round the hotspot."""
    area = np.ones((36, 2))
    return BlockTable(area_cm2=area, length_mm=np.ones((3, 36, 2)), pieces_mm=np.full(marks, 4.0))


@pytest.mark.parametrize(
    ("down_mm", "right_mm", "share"),
    [(0.0, 0.0, 0.0), (1.8, 2.4, 0.0), (3.0, 4.0, 16 / 144), (30.0, 40.0, 1.0)],
)
def test_a_lamp_that_lies_elsewhere_lights_other_grooves(
    down_mm: float, right_mm: float, share: float
) -> None:
    # as squares beyond the 3 mm of a hand; where all are others, two counts of 25 and of 100 equal marks,
    # each with the scatter of a count (Poisson): 1/25 + 1/100
    tables = CommonTables(before=marked(100), after=marked(25))
    moved = replace(POSE, down_mm=down_mm, right_mm=right_mm)
    assert moved_doubt(moved, tables) == pytest.approx(math.sqrt(share * 0.05))
    assert moved_doubt(replace(moved, by="hotspot"), tables) == 0.0


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
