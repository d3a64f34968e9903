"""Noise of one pixel against counting of electrons, simulated one by one."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import integrate

from defectmap.panel.noise import gain_shown, noise_gain, pixel_noise, stabilise
from defectmap.panel.tuning import FULL_WELL_E, READ_NOISE_E
from tests.phantom import Shot, photograph, swirls

LIGHTS = (0.002, 0.005, 0.01, 0.05, 0.2, 0.5, 0.95)
GAINS = (1.0, 4.0, 16.0)
PIXELS = 40_000


def exposed(light: float, gain: float, *, seed: int = 0) -> NDArray[np.float64]:
    """Many pixels under the same light: Poisson electrons, Gaussian read-out (EMVA Standard 1288's model)."""
    rng = np.random.default_rng(seed)
    electrons = rng.poisson(light * FULL_WELL_E / gain, (200, PIXELS // 200))
    return (electrons + rng.normal(0.0, READ_NOISE_E, electrons.shape)) * gain / FULL_WELL_E


@pytest.mark.parametrize(
    ("iso", "gain"), [(None, 1.0), (0.0, 1.0), (50.0, 0.5), (100.0, 1.0), (1600.0, 16.0)]
)
def test_gain_is_iso_over_100(iso: float | None, gain: float) -> None:
    assert noise_gain(iso) == gain


@pytest.mark.parametrize("gain", GAINS)
@pytest.mark.parametrize("light", LIGHTS)
def test_noise_of_a_pixel_is_that_of_counted_electrons(light: float, gain: float) -> None:
    # 2 %: the SD of 40,000 numbers is known to 1 / sqrt(80,000) = 0.35 %; five times that.
    assert exposed(light, gain).std() == pytest.approx(
        pixel_noise(np.asarray(light, np.float32), gain=gain), rel=0.02
    )


@pytest.mark.parametrize("gain", GAINS)
@pytest.mark.parametrize("light", LIGHTS)
def test_stabilised_light_has_unit_variance(light: float, gain: float) -> None:
    pixels = np.maximum(exposed(light, gain), 0).astype(np.float32)  # a camera writes no negative light
    spread = float(stabilise(pixels, gain=gain).std())
    if light * FULL_WELL_E / gain < 3 * READ_NOISE_E:
        # Below three times the read-out noise part of the pixels are cut off at zero, so less is left.
        assert 0.4 < spread < 1.05
    else:
        # 3 %: Anscombe's expansion leaves terms of order 1 / (4 N) in the SD, 2.5 % at 10 electrons.
        assert spread == pytest.approx(1.0, abs=0.03)


@pytest.mark.parametrize("gain", GAINS)
def test_stabilising_is_the_integral_of_one_over_noise(gain: float) -> None:
    for low, high in ((0.0, 0.01), (0.01, 0.3), (0.3, 1.0)):
        ends = np.array([[low, high]], np.float32)
        step = np.diff(stabilise(ends, gain=gain)[0])[0]
        exact, _ = integrate.quad(
            lambda x: 1 / float(pixel_noise(np.asarray(x, np.float64), gain=gain)), low, high
        )
        # 0.01 %: single precision of numbers near 150.
        assert step == pytest.approx(exact, rel=1e-4)


def test_a_difference_on_the_stable_scale_counts_noise() -> None:
    """A line of 5 times the noise of a pixel stands 5 units out, in light and in shade."""
    for light in (0.01, 0.1, 0.6):
        noise = float(pixel_noise(np.asarray(light, np.float32), gain=1.0))
        pair = np.array([[light - 2.5 * noise, light + 2.5 * noise]], np.float32)
        # 1.5 %: the noise itself changes over those 5 units; to first order that cancels, and the second
        # order is 1.2 % at 60 electrons and less above.
        assert np.diff(stabilise(pair, gain=1.0)[0])[0] == pytest.approx(5.0, rel=0.015)


def test_black_and_white_are_finite_and_in_order() -> None:
    ramp = np.linspace(0.0, 1.0, 1000, dtype=np.float32)[None]
    scaled = stabilise(ramp, gain=1.0)
    assert scaled.dtype == np.float32
    assert np.isfinite(scaled).all()
    assert (np.diff(scaled[0]) > 0).all()
    assert pixel_noise(np.asarray(0.0, np.float32), gain=1.0) == pytest.approx(
        READ_NOISE_E / FULL_WELL_E, rel=1e-5
    )


def test_noise_grows_with_light_and_with_gain() -> None:
    lights = np.linspace(0.0, 1.0, 50, dtype=np.float32)
    quiet, loud = pixel_noise(lights, gain=1.0), pixel_noise(lights, gain=4.0)
    assert (np.diff(quiet) > 0).all()
    assert (loud > quiet).all()
    # Four times the gain, a quarter of the electrons: twice the noise where read-out does not count (0.5 %).
    assert loud[-1] / quiet[-1] == pytest.approx(2.0, rel=0.005)


def shown(iso: float, density: float = 0.0) -> float:
    grooves = swirls(5, density_mm_per_cm2=density) if density else []
    return gain_shown(photograph(grooves, Shot(size_px=(600, 800), iso=iso)).luminance)


@pytest.mark.parametrize("iso", [100.0, 200.0, 400.0])
def test_a_picture_shows_about_its_gain(iso: float) -> None:
    # 30 %: steps of eight bits add to the noise, clipping at black takes from it
    assert shown(iso) == pytest.approx(iso / 100, rel=0.3)


def test_a_noisier_picture_shows_more_gain_and_marks_show_none() -> None:
    assert shown(1600.0) > 2 * shown(400.0)
    # 5 %: the median of blocks hardly notices what a part of them holds
    assert shown(400.0, density=150.0) == pytest.approx(shown(400.0), rel=0.05)


@pytest.mark.parametrize("picture", [np.full((100, 100), 0.2, np.float32), np.full((5, 5), 0.2, np.float32)])
def test_a_picture_without_noise_or_blocks_is_taken_to_be_at_the_lowest_gain(
    picture: NDArray[np.float32],
) -> None:
    assert gain_shown(picture) == 1.0


def test_planes_and_edges_are_no_noise() -> None:
    rows, columns = np.mgrid[:64, :64].astype(np.float32)
    assert gain_shown((0.05 + 0.004 * rows + 0.002 * columns).astype(np.float32)) == 1.0
    assert gain_shown(np.where(columns < 30, 0.1, 0.4).astype(np.float32)) == 1.0
