"""Line response against published ridge theory, and against filters that look at the whole picture."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Literal

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from skimage.filters import frangi, meijering, sato

from defectmap.panel.ridges import kernel_bank, line_response, ridge_points
from tests.phantom.flat import Line, lines_on_flat, straight

SIZE_PX = (121, 121)
MIDDLE = 60
UNIT_SD_PX = 0.95  # of the line that the bank answers with its amplitude, by its own definition


def gaussian_line_response(sd_px: float, sigma_px: float) -> float:
    """Second derivative of a Gaussian line of amplitude 1 (Lindeberg, IJCV 30:117, 1998)."""
    return float(sd_px / (sd_px**2 + sigma_px**2) ** 1.5)


def across(kernel_index: int = 0) -> NDArray[np.float64]:
    """Kernel summed along its line: its profile across."""
    result: NDArray[np.float64] = kernel_bank()[kernel_index].sum(axis=1).astype(float)
    return result


def zero_crossing_px() -> float:
    """Where the profile changes sign: at sigma, for the second derivative of a Gaussian."""
    profile = across()[5:]
    first = int(np.argmax(profile < 0))
    return float(first - 1 + profile[first - 1] / (profile[first - 1] - profile[first]))


def response_to(
    sd_px: float, *, profile: Literal["gauss", "bar"] = "gauss", amplitude: float = 10.0, **paper: Any
) -> NDArray[np.float32]:
    points = straight((MIDDLE, MIDDLE), angle_deg=0, length_px=400)
    line = Line(points=points, amplitude=amplitude, width_px=sd_px, profile=profile)
    return line_response(lines_on_flat([line], size_px=SIZE_PX, background=100.0, **paper))[0]


def test_formula_is_what_a_reference_library_gives() -> None:
    """Normalised by sigma², the response peaks at sigma = sqrt(2) s with 2 A / (3 sqrt 3) = 0.3849 A."""
    offsets = np.arange(-200, 201)
    line = np.exp(-(offsets**2) / (2 * 8.0**2))
    sigma = 8.0 * np.sqrt(2)
    peak = -gaussian_filter1d(line, sigma, order=2)[200] * sigma**2
    assert peak == pytest.approx(0.3849, abs=0.001)
    assert gaussian_line_response(8.0, sigma) * sigma**2 == pytest.approx(2 / (3 * np.sqrt(3)), rel=1e-12)


@pytest.mark.parametrize(("sd_px", "off"), [(0.7, 0.1), (0.95, 0.1), (1.2, 0.1), (1.5, 0.2)])
def test_response_to_gaussian_lines_follows_theory(sd_px: float, off: float) -> None:
    sigma = zero_crossing_px()
    expected = 10 * gaussian_line_response(sd_px, sigma) / gaussian_line_response(UNIT_SD_PX, sigma)
    # 10 %: the bank's profile is a Gaussian's second derivative less what answers to a parabola; on lines as
    # wide as its window of 11 pixels allows that takes more away, so 20 % at 1.5 px.
    assert response_to(sd_px)[MIDDLE, MIDDLE] == pytest.approx(expected, rel=off)


@pytest.mark.parametrize("width_px", [1.0, 2.0, 3.0])
def test_a_bar_within_steger_s_limit_gives_one_centreline(width_px: float) -> None:
    """Steger, PAMI 20:113, 1998: one line while sigma >= w / sqrt(3), w half the bar's width."""
    assert width_px <= 2 * np.sqrt(3) * zero_crossing_px()
    rows = crests_in_bar(width_px)
    assert len(rows) == 1
    assert rows[0] == pytest.approx(MIDDLE, abs=0.1)


def test_a_bar_far_wider_gives_its_two_edges_and_no_middle() -> None:
    width_px = 4 * 2 * np.sqrt(3) * zero_crossing_px()
    rows = crests_in_bar(width_px)
    assert len(rows) == 2
    assert np.abs(rows - MIDDLE).min() > 0.35 * width_px


def crests_in_bar(width_px: float) -> NDArray[np.float64]:
    """Rows of the crests on the bar, in the middle column, of at least a fifth of its height."""
    response = response_to(width_px, profile="bar")
    found = ridge_points(response, response > 2.0)
    rows = found.points[found.pixels[:, 1] == MIDDLE, 0]
    result: NDArray[np.float64] = rows[np.abs(rows - MIDDLE) <= width_px / 2 + 0.5]
    return result


@pytest.mark.parametrize("slope_per_px", [0.0, 0.05, 0.2])
def test_slope_of_light_moves_the_centre_less_than_a_third_of_a_pixel(slope_per_px: float) -> None:
    """An uneven surround draws a line's place to one side (Steger 1998, abstract); a lamp's halo is one."""
    response = response_to(0.95, ramp_per_px=(slope_per_px, 0.0))
    found = ridge_points(response, response > 5.0)
    rows = found.points[found.pixels[:, 1] == MIDDLE, 0]
    assert np.abs(rows - MIDDLE).min() < 0.3


def test_constant_sloping_and_evenly_curved_light_give_nothing() -> None:
    rows, columns = np.mgrid[: SIZE_PX[0], : SIZE_PX[1]].astype(np.float32)
    # A bowl of 1 noise unit at 10 px from its middle: as strong as orange peel gets.
    light = 100 + 0.3 * rows - 0.2 * columns + 0.01 * (rows - MIDDLE) ** 2
    for response in line_response(light.astype(np.float32)):
        # 0.01 noise units: what single precision leaves of numbers near 200.
        assert np.abs(response[10:-10, 10:-10]).max() < 0.01


@pytest.fixture(scope="module")
def with_and_without_a_strong_line() -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Two faint lines, with and without a strong one far from them."""
    faint = [
        Line(points=straight((row, 100), angle_deg=0, length_px=150), amplitude=4.0, width_px=1.0)
        for row in (40, 160)
    ]
    strong = Line(points=straight((100, 100), angle_deg=0, length_px=190), amplitude=60.0, width_px=1.0)

    def drawn(lines: list[Line]) -> NDArray[np.float32]:
        return lines_on_flat(lines, size_px=(200, 200), background=100.0)

    return drawn([*faint, strong]), drawn(faint)


def growth(response: Callable[..., Any], pictures: tuple[NDArray[np.float32], NDArray[np.float32]]) -> float:
    """How much stronger the faint lines answer once the strong one is gone."""
    with_strong, without = (response(picture) for picture in pictures)
    return float(without[40, 100] / with_strong[40, 100])


def test_taking_a_strong_line_away_changes_no_other_line(
    with_and_without_a_strong_line: tuple[NDArray[np.float32], NDArray[np.float32]],
) -> None:
    assert growth(lambda p: line_response(p)[0], with_and_without_a_strong_line) == pytest.approx(
        1.0, abs=1e-5
    )


def test_filters_that_look_at_the_whole_picture_do_not_keep_that_law(
    with_and_without_a_strong_line: tuple[NDArray[np.float32], NDArray[np.float32]],
) -> None:
    """Measured on other pictures: meijering 4.9 times, frangi 13.9, sato 1.00 (scikit-image 0.26)."""
    options = {"sigmas": [1.5], "black_ridges": False}
    assert growth(lambda p: meijering(p, **options), with_and_without_a_strong_line) > 2.0
    assert growth(lambda p: frangi(p, **options), with_and_without_a_strong_line) > 2.0
    assert growth(lambda p: sato(p, **options), with_and_without_a_strong_line) == pytest.approx(
        1.0, abs=0.01
    )


def test_noise_comes_out_as_the_kernel_s_norm_says() -> None:
    """White noise of variance 1 leaves a linear filter with variance sum(k²): the unit of every threshold."""
    noise = np.random.default_rng(5).standard_normal((700, 700)).astype(np.float32)
    kernel = kernel_bank()[3]
    response, _ = line_response(noise, bank=(kernel,))
    # 2 %: 490,000 pixels, of which about one in 20 is independent.
    assert response.std() == pytest.approx(np.sqrt((kernel**2).sum()), rel=0.02)
