"""What a tone curve did to the contrast of lines, by the grain."""

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from defectmap.comparison.grain_step import LightClass
from defectmap.comparison.processing_traces import Processing
from defectmap.comparison.tone_contrast import contrast_step
from tests.comparison.test_processing import FACTS, PLAIN

FLATTER = 0.8
LIGHT = np.linspace(-1.0, -7.0, 80)  # log2, beside the lamp to far from it


def srgb(light: float) -> float:
    return 255 * (12.92 * light if light <= 0.0031308 else 1.055 * light ** (1 / 2.4) - 0.055)


def seen(*, slope: float = 1.0, contrast: float = 1.0, photons: float = 1.0) -> Processing:
    """Shot noise of a sensor (share of the light: its root) after a curve: light L became L to the slope."""
    grain = {}
    for one in range(-12, 0):
        light = 2.0 ** ((one + 0.5) / 2)
        share = 0.01 * contrast / math.sqrt(photons * light ** (1 / slope))
        grain[one] = LightClass(share * light * (srgb(1.001 * light) - srgb(light)) / (0.001 * light), 100)
    return replace(PLAIN, grain=grain)


def step(first: Processing, second: Processing, *, slope: float = 1.0, exposure_s: float = 0.01) -> float:
    before: Any = SimpleNamespace(processing=first, facts=FACTS)
    after: Any = SimpleNamespace(processing=second, facts=replace(FACTS, exposure_s=exposure_s))
    return contrast_step(before, after, (LIGHT, slope * LIGHT), slope=slope)


def test_a_curve_over_the_whole_picture_bends_lines_as_it_bends_grain() -> None:
    bent = seen(slope=FLATTER, contrast=FLATTER)
    assert step(seen(), bent, slope=FLATTER) == pytest.approx(math.log(FLATTER), abs=0.01)


def test_a_curve_that_works_locally_leaves_lines_as_they_were() -> None:
    assert step(seen(), seen(slope=FLATTER), slope=FLATTER) == pytest.approx(0.0, abs=0.01)


def test_light_that_the_camera_tells_of_is_no_curve() -> None:
    # twice the light: grain is a root of two less of it, by the photon transfer curve
    assert step(seen(), seen(photons=2.0), exposure_s=0.02) == pytest.approx(0.0, abs=0.01)
    assert step(seen(), seen(photons=1.2)) == pytest.approx(-0.5 * math.log(1.2), abs=0.01)


def test_grain_that_no_curve_leaves_says_nothing_of_a_curve() -> None:
    assert math.isnan(step(seen(), seen(slope=FLATTER, contrast=1.3), slope=FLATTER))
    assert math.isnan(step(seen(), seen(slope=FLATTER, contrast=0.6), slope=FLATTER))


def test_nothing_is_said_without_grain_or_settings() -> None:
    assert math.isnan(step(seen(), PLAIN))
    untold: Any = SimpleNamespace(processing=seen(), facts=replace(FACTS, exposure_s=None))
    assert math.isnan(contrast_step(untold, untold, (LIGHT, LIGHT), slope=1.0))


def test_grain_of_two_cameras_or_of_a_sharpened_or_smoothed_picture_says_nothing_of_a_curve() -> None:
    bent = seen(slope=FLATTER, contrast=FLATTER)
    assert math.isnan(step(seen(), replace(bent, overshoot=0.06), slope=FLATTER))
    assert math.isnan(step(seen(), replace(bent, grain_codes=0.4, grain_correlation=0.8), slope=FLATTER))
    before: Any = SimpleNamespace(processing=seen(), facts=FACTS)
    after: Any = SimpleNamespace(processing=bent, facts=replace(FACTS, width_px=FACTS.width_px + 100))
    assert math.isnan(contrast_step(before, after, (LIGHT, FLATTER * LIGHT), slope=FLATTER))
