"""Equivalent width against its closed forms.

Gray, *The Observation and Analysis of Stellar Photospheres* (from memory). A Gaussian of height a and
standard deviation s: W = a s √(2π). A Lorentzian of height a and half width g: W = π a g.
Unchanged by convolution with any kernel of sum 1.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from defectmap.panel.paths import Paths
from defectmap.panel.strength import equivalent_width

BESIDE = 0.02


def line_picture(profile: Callable[..., Any], *, px_per_mm: float, sign: float = 1.0) -> NDArray[np.float32]:
    """A vertical line through the middle; `profile` gives its height over the light beside it, by mm."""
    fine = 16  # samples a pixel, so that each pixel holds the mean over its width
    x = (np.arange(301 * fine) + 0.5) / fine - 0.5 - 150.3
    row = (1 + sign * profile(x / px_per_mm)).reshape(301, fine).mean(axis=1) * BESIDE
    return np.repeat(row[None].astype(np.float32), 200, axis=0)


def read(picture: NDArray[np.float32], *, px_per_mm: float) -> float:
    path = np.column_stack([np.arange(20.0, 180.0), np.full(160, 150.3)])
    um, beside = equivalent_width(picture, Paths.of([path]), px_per_mm=px_per_mm)
    # 3 %: the far wings of the line itself
    np.testing.assert_allclose(beside, BESIDE, rtol=0.03)
    return float(np.median(um))


def gaussian(height: float, sd_mm: float) -> Callable[..., Any]:
    return lambda mm: height * np.exp(-(mm**2) / (2 * sd_mm**2))


@pytest.mark.parametrize("px_per_mm", [10.0, 20.0, 30.0])
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_gaussian_line(px_per_mm: float, sign: float) -> None:
    truth = 0.8 * 0.05 * np.sqrt(2 * np.pi) * 1000
    # 2 %: samples every 0.05 mm of a line of 0.05 mm
    assert read(line_picture(gaussian(0.8, 0.05), px_per_mm=px_per_mm, sign=sign), px_per_mm=px_per_mm) == (
        pytest.approx(sign * truth, rel=0.02)
    )


def test_a_lorentzian_line_less_its_wings() -> None:
    half = 0.02
    picture = line_picture(lambda mm: 3.0 / (1 + (mm / half) ** 2), px_per_mm=20.0)
    whole = np.pi * 3.0 * half * 1000
    # of a Lorentzian (2/π) atan(x/g) lies within x; what is summed is 0.225 mm to each side, less the wing
    # that is taken for the light beside, at 0.35 mm
    within = 2 / np.pi * np.arctan(0.225 / half) - 0.45 * 3.0 / (1 + (0.35 / half) ** 2) * 1000 / whole
    assert read(picture, px_per_mm=20.0) == pytest.approx(within * whole, rel=0.02)


@pytest.mark.parametrize("blur_px", [0.7, 1.2, 1.6])
def test_blur_and_sharpening_keep_it(blur_px: float) -> None:
    picture = line_picture(gaussian(1.5, 0.03), px_per_mm=20.0)
    soft = np.asarray(cv2.GaussianBlur(picture, (0, 0), blur_px), np.float32)
    sharp = 2 * picture - cv2.GaussianBlur(picture, (0, 0), 1.0)
    truth = read(picture, px_per_mm=20.0)
    # 3 %: what a kernel carries beyond 0.2 mm
    assert read(soft, px_per_mm=20.0) == pytest.approx(truth, rel=0.03)
    assert read(sharp, px_per_mm=20.0) == pytest.approx(truth, rel=0.03)


@pytest.mark.parametrize("exposure", [0.25, 4.0])
def test_exposure_cancels(exposure: float) -> None:
    picture = line_picture(gaussian(0.8, 0.05), px_per_mm=20.0)
    path = Paths.of([np.column_stack([np.arange(20.0, 180.0), np.full(160, 150.3)])])
    pictures = (picture, picture * np.float32(exposure))
    one, two = (equivalent_width(p, path, px_per_mm=20.0)[0] for p in pictures)
    np.testing.assert_allclose(one, two, rtol=1e-4)
