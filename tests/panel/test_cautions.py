"""Warnings and refusals that rest on the whole measurement."""

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from defectmap import measure
from defectmap.errors import NoHotspot, UnmeasurableLight
from defectmap.panel.background import Background
from defectmap.panel.cautions import cautions, refuse_no_panel, refuse_no_zone
from defectmap.panel.measurement import Hotspot
from tests.panel.blurred import SHOT, seen


def test_a_good_photograph_has_no_warnings() -> None:
    assert measure(seen(), px_per_mm=20.0).warnings == ()


def test_a_lamp_far_from_the_middle_is_said() -> None:
    shot = replace(SHOT, lamp_mm=(0.0, 34.0, 480.0))
    result = measure(seen(shot=shot), px_per_mm=20.0)
    assert "off-centre" in {warning.code for warning in result.warnings}


def test_a_dim_reflection_is_said() -> None:
    # Two thirds of full scale: bright enough to be a lamp, too dim to show faint marks.
    result = measure(seen(shot=replace(SHOT, ev=-4.5)), px_per_mm=20.0)
    assert "underexposed" in {warning.code for warning in result.warnings}


EVEN = Background(blocks=np.full((10, 10), 0.1, np.float32), block_px=10, shape=(100, 100))
LIT = np.ones((100, 100), bool)


def with_zone(share: float, **more: Any) -> Any:
    """What is found in an even picture whose upper rows count."""
    zone = np.zeros_like(LIT)
    zone.ravel()[: round(share * zone.size)] = True
    plain = {"marks": [], "lamps": 1, "round_share": None, "texture_px": 0, "faintest": EVEN, "grain": EVEN}
    return SimpleNamespace(**{**plain, "zone": zone, **more})


def codes(found: Any, *, aside: float = 0.0) -> list[str]:
    hotspot = Hotspot(row=50.0, column=50.0 + 100 * aside, radius_px=5.0, lamps=1)
    return [remark.code for remark in cautions(found, LIT, hotspot, EVEN, scale=10.0, gain=1.0)]


@pytest.mark.parametrize(("share", "said"), [(0.24, True), (0.26, False)])
def test_a_small_zone_is_said(share: float, said: bool) -> None:
    """A quarter of the picture is the limit."""
    assert ("small-zone" in codes(with_zone(share))) is said


def test_a_zone_too_small_for_figures_is_refused() -> None:
    refuse_no_zone(with_zone(0.032), LIT, EVEN, scale=10.0, gain=1.0, name="one.jpg")
    with pytest.raises(UnmeasurableLight, match=r"one\.jpg"):
        refuse_no_zone(with_zone(0.028), LIT, EVEN, scale=10.0, gain=1.0, name="one.jpg")


@pytest.mark.parametrize(("aside", "said"), [(0.28, False), (-0.28, False), (0.32, True), (-0.32, True)])
def test_a_lamp_off_the_middle_is_said(aside: float, said: bool) -> None:
    """Three tenths of the shorter side are the limit."""
    assert ("off-centre" in codes(with_zone(0.5), aside=aside)) is said


@pytest.mark.parametrize(("round_share", "said"), [(0.73, True), (0.77, False)])
def test_lines_that_do_not_run_round_the_lamp_are_said(round_share: float, said: bool) -> None:
    found = with_zone(0.5, round_share=round_share)
    assert ("lines-not-round-the-lamp" in codes(found)) is said
    refuse_no_panel(with_zone(0.5, round_share=0.64), name="one.jpg")
    with pytest.raises(NoHotspot, match=r"one\.jpg"):
        refuse_no_panel(with_zone(0.5, round_share=0.60), name="one.jpg")
