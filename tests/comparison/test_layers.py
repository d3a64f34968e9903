"""Correlation of two views by way of OpenCV's transform, against SciPy's direct sum."""

import math
from typing import Any, cast

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import correlate2d

from defectmap.comparison import layers
from defectmap.comparison.tuning import HALF_CELLS

SIDE = 2 * HALF_CELLS + 1
REACH = 6


def scattered(seed: int, *, directions: bool) -> layers.Map:
    """Some cells within 20 of the middle one hold something."""
    rng = np.random.default_rng(seed)
    view: Any = np.zeros((SIDE, SIDE), np.complex64 if directions else np.float32)
    near = slice(HALF_CELLS - 20, HALF_CELLS + 21)
    held = rng.random((41, 41)) < 0.1
    view[near, near] = held * np.exp(1j * rng.uniform(0, 2 * math.pi, (41, 41))) if directions else held
    return cast(layers.Map, view)


def correlated(fixed: layers.Layers, moving: layers.Layers, turn_deg: float) -> NDArray[np.float32]:
    size = tuple(cv2.getOptimalDFTSize(side + REACH + 1) for side in fixed.shape[:2])
    product = cv2.mulSpectrums(layers.spectrum(fixed, size), layers.spectrum(moving, size), 0, conjB=True)
    meeting = cv2.dft(product, flags=cv2.DFT_INVERSE | cv2.DFT_SCALE)
    return layers.shifts(np.asarray(meeting, np.float32), REACH, turn_deg)


@pytest.mark.parametrize("directions", [True, False])
@pytest.mark.parametrize("turn_deg", [0.0, 25.0])
def test_correlation_is_the_direct_sum(directions: bool, turn_deg: float) -> None:
    fixed, moving = scattered(1, directions=directions), scattered(2, directions=directions)
    held = layers.held_layers(fixed, moving, turn_deg=0.0, scale=1.0)
    direction = np.exp(2j * math.radians(turn_deg)) if directions else 1.0
    near = slice(HALF_CELLS - 40, HALF_CELLS + 41)
    whole = correlate2d(fixed[near, near], direction * moving[near, near], mode="same").real
    middle = slice(40 - REACH, 40 + REACH + 1)
    # single precision over some hundred cells
    assert correlated(*held, turn_deg) == pytest.approx(whole[middle, middle], abs=1e-3)


def test_held_is_small_and_leaves_nothing_out() -> None:
    fixed, moving = scattered(1, directions=True), scattered(2, directions=True)
    one, other = layers.held_layers(fixed, moving, turn_deg=10.0, scale=1.06)
    assert one.shape == other.shape
    assert one.shape[0] < 70  # 41 cells, their corners turned by 10 degrees, and a margin
    assert np.count_nonzero(one.any(axis=2)) == np.count_nonzero(fixed)
    turned = layers.warped(other, 10.0, 1.06)
    assert not turned[[0, -1]].any()
    assert not turned[:, [0, -1]].any()


def test_turn_adds_to_the_azimuth() -> None:
    view = np.zeros((41, 41), np.float32)
    view[20, 30] = 1  # ten cells to the right: azimuth 0
    turned = layers.warped(view, 90.0, 1.5)
    assert tuple(map(int, np.unravel_index(int(turned.argmax()), turned.shape))) == (
        35,
        20,
    )  # fifteen cells down


def test_halving_keeps_the_middle() -> None:
    view = np.zeros((41, 61), np.float32)
    view[20, 30] = 1
    small = layers.halved(view)
    assert small.shape == (21, 31)
    assert tuple(map(int, np.unravel_index(int(small.argmax()), small.shape))) == (10, 15)
