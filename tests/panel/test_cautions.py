"""Warnings and refusals that rest on the whole measurement."""

from dataclasses import replace
from types import SimpleNamespace

import cv2
import numpy as np
import pytest

from defectmap import measure
from defectmap.errors import UnmeasurableLight
from defectmap.panel.background import Background
from defectmap.panel.cautions import cautions, soft_px, wander_mm
from defectmap.panel.measurement import Hotspot
from tests.phantom import Panel, Shot, photograph, swirls
from tests.rendered import file_of

SHOT = Shot(size_px=(900, 1200), px_per_mm=20.0)


def seen(
    *, blur_px: float = 0.0, density: float = 60.0, panel: Panel | None = None, shot: Shot = SHOT
) -> bytes:
    grooves = swirls(3, density_mm_per_cm2=density) if density else []
    rgb = photograph(grooves, shot, panel=panel).rgb
    if blur_px:
        soft = np.asarray(cv2.GaussianBlur(rgb, (0, 0), blur_px))
        noise = np.random.default_rng(1).normal(0, 1.5, rgb.shape)  # a sensor's noise comes after the lens
        rgb = np.clip(soft + noise, 0, 255).astype(np.uint8)
    return file_of(rgb)


@pytest.mark.parametrize("blur_px", [4.0, 5.0])
def test_strong_blur_is_refused(blur_px):
    with pytest.raises(UnmeasurableLight, match="too blurred"):
        measure(seen(blur_px=blur_px), px_per_mm=20.0)


def test_slight_blur_is_measured_with_a_warning():
    result = measure(seen(blur_px=2.0), px_per_mm=20.0)
    assert result.marks
    assert "soft" in {warning.code for warning in result.warnings}


@pytest.mark.parametrize("orange_peel_rad", [0.0, 0.0012, 0.003])
def test_a_clean_panel_is_not_called_blurred(orange_peel_rad):
    result = measure(seen(density=0.0, panel=Panel(orange_peel_rad=orange_peel_rad)), px_per_mm=20.0)
    assert "soft" not in {warning.code for warning in result.warnings}


def test_a_good_photograph_has_no_warnings():
    assert measure(seen(), px_per_mm=20.0).warnings == ()


def test_a_lamp_far_from_the_middle_is_said():
    shot = replace(SHOT, lamp_mm=(0.0, 34.0, 480.0))
    result = measure(seen(shot=shot), px_per_mm=20.0)
    assert "off-centre" in {warning.code for warning in result.warnings}


def test_a_dim_reflection_is_said():
    # Two thirds of full scale: bright enough to be a lamp, too dim to show faint marks.
    result = measure(seen(shot=replace(SHOT, ev=-4.5)), px_per_mm=20.0)
    assert "underexposed" in {warning.code for warning in result.warnings}


def test_wander_is_nothing_on_a_parabola_and_the_ripple_of_a_wave():
    along = np.linspace(-1, 1, 400)
    parabola = np.column_stack([along**2, 10 * along])
    assert wander_mm(parabola) < 1e-12
    wave = parabola + np.column_stack([0.2 * np.sin(40 * along), np.zeros(400)])
    # RMS of a sine is its amplitude over the root of 2; 5 %: the parabola takes up a little of it.
    assert wander_mm(wave) == pytest.approx(0.2 / np.sqrt(2), rel=0.05)


def test_width_is_not_told_from_a_handful_of_marks():
    assert soft_px([], 20.0) == 0.0


@pytest.mark.parametrize(("share", "said"), [(0.24, True), (0.26, False)])
def test_a_small_zone_is_said(share, said):
    """A quarter of the picture is the limit."""
    zone = np.zeros((100, 100), bool)
    zone[: round(100 * share)] = True
    even = Background(blocks=np.full((10, 10), 0.1, np.float32), block_px=10, shape=(100, 100))
    found = SimpleNamespace(
        marks=[], zone=zone, faintest=even, grain=even, lamps=1, round_share=None, texture_px=0
    )
    hotspot = Hotspot(row=50.0, column=50.0, radius_px=5.0, lamps=1)
    said_of = cautions(found, np.ones_like(zone), hotspot, even, scale=10.0, px_per_mm=10.0, gain=1.0)
    assert ("small-zone" in [remark.code for remark in said_of]) is said
