"""Warnings and refusals that rest on the whole measurement."""

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from defectmap import measure
from defectmap.panel.background import Background
from defectmap.panel.cautions import cautions
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


@pytest.mark.parametrize(("share", "said"), [(0.24, True), (0.26, False)])
def test_a_small_zone_is_said(share: float, said: bool) -> None:
    """A quarter of the picture is the limit."""
    zone = np.zeros((100, 100), bool)
    zone[: round(100 * share)] = True
    even = Background(blocks=np.full((10, 10), 0.1, np.float32), block_px=10, shape=(100, 100))
    found: Any = SimpleNamespace(
        marks=[], zone=zone, faintest=even, grain=even, lamps=1, round_share=None, texture_px=0
    )
    hotspot = Hotspot(row=50.0, column=50.0, radius_px=5.0, lamps=1)
    said_of = cautions(found, np.ones_like(zone), hotspot, even, scale=10.0, gain=1.0)
    assert ("small-zone" in [remark.code for remark in said_of]) is said
