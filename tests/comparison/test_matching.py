"""The same groove in both photographs."""

from dataclasses import replace

import numpy as np
import pytest

from defectmap.comparison.align import Alignment
from defectmap.comparison.common import AlignedPair
from defectmap.comparison.matching import matched_marks, sharpness, strength_step
from defectmap.panel.measurement import Hotspot, PanelMeasurement, PhotoFacts
from tests.comparison import made

POSE = Alignment(by="marks", sureness=9, marks_sureness=9, texture_sureness=0, down_mm=1.0, right_mm=-2.0)


def measured(
    rows_px: list[float], *, width_mm: float = 0.1, px_per_mm: float = 10.0, polarity: str = "bright"
) -> PanelMeasurement:
    """Level marks of 10 mm, a point each px."""
    along = np.arange(20 * px_per_mm, 30 * px_per_mm)
    marks = [
        made.mark(np.column_stack([np.full(len(along), row), along]), px_per_mm=px_per_mm) for row in rows_px
    ]
    changed = [replace(mark, width_mm=width_mm, polarity=polarity) for mark in marks]  # type: ignore[arg-type]
    return made.measurement(
        changed,
        np.ones((900, 1200), np.bool_),
        hotspot=Hotspot(row=20 * px_per_mm, column=25 * px_per_mm, radius_px=5 * px_per_mm, lamps=1),
        px_per_mm=px_per_mm,
        facts=PhotoFacts(name="shot.jpg", sha256="0" * 64, width_px=1200, height_px=900),
    )


def moved(rows_px: list[float], px_per_mm: float = 10.0) -> list[float]:
    """Where the marks lie after, by the pose: 1 mm further up."""
    return [row - px_per_mm for row in rows_px]


@pytest.mark.parametrize("px_per_mm", [10.0, 40.0])
def test_marks_find_themselves(px_per_mm: float) -> None:
    rows = [5 * px_per_mm, 8 * px_per_mm, 12 * px_per_mm, 15 * px_per_mm, 18 * px_per_mm]
    before = measured(rows, px_per_mm=px_per_mm)
    after = measured(moved(rows, px_per_mm)[1:], width_mm=0.15, px_per_mm=px_per_mm)
    overlay = AlignedPair(before=before, after=after, alignment=POSE)
    pairs = matched_marks(overlay)
    assert [one.points[0, 0] for one, _ in pairs] == rows[1:]
    found = sharpness(overlay)
    assert found is not None
    assert found.width_ratio == pytest.approx(1.5)


def test_marks_beside_each_other_are_not_the_same() -> None:
    rows = [50.0, 80.0, 120.0, 150.0]
    # half a mm off: further than a pose is wrong
    after = measured([row + 5 for row in moved(rows)])
    overlay = AlignedPair(before=measured(rows), after=after, alignment=POSE)
    assert matched_marks(overlay) == []
    assert sharpness(overlay) is None


def test_dark_is_not_bright() -> None:
    rows = [50.0, 80.0, 120.0, 150.0]
    after = measured(moved(rows), polarity="dark")
    assert matched_marks(AlignedPair(before=measured(rows), after=after, alignment=POSE)) == []


def test_a_mark_half_of_which_lies_elsewhere_is_not_matched() -> None:
    # 10 mm, of which the before photograph holds 4
    before, after = measured([50.0]), measured([40.0])
    short = before.marks[0]
    part = replace(before, marks=(replace(short, points=short.points[:40]),))
    assert matched_marks(AlignedPair(before=part, after=after, alignment=POSE)) == []


def test_light_that_a_blur_spreads_beyond_the_core() -> None:
    # a Gaussian holds erf(x / (sqrt(2) sd)) of itself within x (any table of the error function): with 0.2 mm
    # at a width of 0.4 mm at half height, sd 0.170 mm, that is 0.7610
    rows = [50.0, 80.0, 120.0, 150.0]
    found = sharpness(
        AlignedPair(before=measured(rows), after=measured(moved(rows), width_mm=0.4), alignment=POSE)
    )
    assert found is not None
    assert np.exp(found.lost_steps) == pytest.approx(0.7610, abs=2e-4)


def strong(um: list[float], *, after: bool = False) -> PanelMeasurement:
    """Level marks 1 mm apart, of one strength each."""
    rows = [60.0 + 10 * each for each in range(len(um))]
    bare = measured(moved(rows) if after else rows)
    marks = [
        replace(
            mark, um=np.full(len(mark.points), each, np.float32), beside=np.ones(len(mark.points), np.float32)
        )
        for mark, each in zip(bare.marks, um, strict=True)
    ]
    return replace(bare, marks=tuple(marks))


def test_marks_of_the_standard_say_how_much_weaker_they_all_look() -> None:
    um = [80.0, 90.0, 100.0, 110.0, 120.0] * 5
    before, after = strong(um), strong([0.8 * each for each in um], after=True)
    found = strength_step(AlignedPair(before=before, after=after, alignment=POSE))
    assert found is not None
    assert found.step == pytest.approx(np.log(0.8), abs=1e-6)
    doubled = strength_step(
        AlignedPair(before=before, after=after, alignment=POSE), lambda points: np.full(len(points), 1.25)
    )
    assert doubled is not None
    assert doubled.step == pytest.approx(0.0, abs=1e-6)


def test_marks_that_went_their_own_ways_say_nothing_of_the_camera() -> None:
    # a correction takes some and leaves others
    um = [100.0] * 25
    left = [100.0 if each % 2 else 40.0 for each in range(25)]
    assert (
        strength_step(AlignedPair(before=strong(um), after=strong(left, after=True), alignment=POSE)) is None
    )


@pytest.mark.parametrize("um", [[100.0] * 10, [800.0] * 25, []])
def test_few_marks_near_the_standard_say_nothing(um: list[float]) -> None:
    overlay = AlignedPair(before=strong(um), after=strong(um, after=True), alignment=POSE)
    assert strength_step(overlay) is None
