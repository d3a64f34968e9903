"""The paint tells how two photographs lie on each other."""

from collections.abc import Sequence

import numpy as np
import pytest
from numpy.typing import NDArray

from defectmap.comparison import align, tuning, view
from defectmap.comparison.averaged import small_sheet
from defectmap.panel.measurement import Mark, PanelMeasurement
from tests.comparison import made


def laid_out(measured: PanelMeasurement) -> view.PanelView:
    return seen(np.full(measured.zone.shape, 0.2, np.float32), measured, measured.marks)


def seen(light: NDArray[np.float32], measured: PanelMeasurement, marks: Sequence[Mark]) -> view.PanelView:
    scale = 4.0 / measured.scale.px_per_mm
    sheet = small_sheet(
        light, np.zeros(light.shape, np.bool_), measured.zone, hotspot=measured.hotspot, scale=scale
    )
    return view.sheet_view(sheet, marks, hotspot=measured.hotspot, scale=scale, cells_per_mm=4.0)


@pytest.fixture(scope="module")
def before() -> PanelMeasurement:
    return made.photograph(made.panel(1, 1500))


@pytest.mark.parametrize(
    ("turn_deg", "centre_mm", "hotspot_mm", "scale"),
    [
        (0.0, (0.0, 0.0), (0.0, 0.0), 1.0),
        (4.0, (3.0, -2.0), (1.5, 2.5), 1.0),
        (-2.6, (-4.0, 5.0), (-3.0, 1.0), 1.0),
        (1.3, (2.0, 2.0), (2.0, -2.0), 1.04),
    ],
)
def test_pose_is_found(
    before: PanelMeasurement,
    turn_deg: float,
    centre_mm: tuple[float, float],
    hotspot_mm: tuple[float, float],
    scale: float,
) -> None:
    # six marks in ten are gone; the camera moved, and the lamp; the scale that was typed may be a little
    # wrong
    after = made.photograph(
        made.thinned(made.panel(1, 1500), 0.4, 2),
        turn_deg=turn_deg,
        centre_mm=centre_mm,
        hotspot_mm=hotspot_mm,
        px_per_mm=made.PX_PER_MM / scale,
        said_px_per_mm=made.PX_PER_MM,
    )
    found = align.align(laid_out(before), laid_out(after))
    assert found.by == "marks"
    # a groove is 0.1 mm wide and a grid cell 0.25 mm: half a cell in place, and half a cell at 30 mm in turn
    # and scale
    assert found.turn_deg == pytest.approx(-turn_deg, abs=0.25)
    assert (found.down_mm, found.right_mm) == pytest.approx(hotspot_mm, abs=0.15)
    assert found.scale == pytest.approx(scale, abs=0.006)


def test_both_ways_undo_each_other() -> None:
    pose = align.Alignment(
        by="marks",
        sureness=9,
        marks_sureness=9,
        texture_sureness=0,
        turn_deg=7,
        down_mm=3,
        right_mm=-2,
        scale=1.1,
    )
    points = np.array([[0.0, 0.0], [10.0, -4.0], [-3.0, 8.0]])
    assert pose.to_after(pose.to_before(points)) == pytest.approx(points)
    # a turn adds to the azimuth, counted from right towards down
    assert align.Alignment(
        by="marks", sureness=9, marks_sureness=9, texture_sureness=0, turn_deg=90
    ).to_before(np.array([[0.0, 1.0]])) == pytest.approx(np.array([[1.0, 0.0]]), abs=1e-12)


@pytest.mark.parametrize("seed", [5, 6, 7])
def test_another_panel_is_not_sure(before: PanelMeasurement, seed: int) -> None:
    other = made.photograph(made.panel(seed, 700), hotspot_mm=(1.0, 1.0))
    found = align.align(laid_out(before), laid_out(other))
    assert found.by == "hotspot"
    assert found.marks_sureness < tuning.ALIGN_SURE
    assert (found.turn_deg, found.down_mm, found.scale) == (0, 0, 1)


def test_clean_after_is_found_by_its_texture(before: PanelMeasurement) -> None:
    rng = np.random.default_rng(8)
    import cv2

    ripple = cv2.GaussianBlur(rng.normal(0, 1, made.SIZE_PX).astype(np.float32), (0, 0), 6)
    ripple = 0.2 * np.exp(0.1 * ripple / ripple.std())
    shifted = np.roll(ripple, (20, -30), axis=(0, 1))
    found = align.align(seen(ripple, before, before.marks), seen(shifted, before, ()))
    assert found.by == "texture"
    # 20 and 30 px of 10 px/mm
    assert (found.down_mm, found.right_mm) == pytest.approx((-2.0, 3.0), abs=0.1)


def test_nothing_to_go_by() -> None:
    bare = made.photograph(made.panel(1, 0))
    found = align.align(laid_out(bare), laid_out(bare))
    assert found.by == "hotspot"
    assert found.sureness == 0
