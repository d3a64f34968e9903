"""The line response: absolute, blind to light without lines, with a gain that is known."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage

from defectmap.panel.noise import stabilise
from defectmap.panel.ridges import (
    DIRECTIONS,
    direction_index,
    kernel_bank,
    line_response,
    look_up,
    ridge_points,
)
from tests.phantom import Line, arc, lines_on_flat, straight

ANGLES_DEG = [i * 180 / DIRECTIONS for i in range(DIRECTIONS)]
MIDDLE = 40
INNER = (slice(12, -12), slice(12, -12))
FAR = 5 + 1  # half a kernel and a pixel


def line_picture(
    angle_deg: float,
    *,
    amplitude: float = 10.0,
    width_px: float = 0.95,
    centre: tuple[float, float] = (MIDDLE, MIDDLE),
    background: float = 0.0,
) -> NDArray[np.float32]:
    """A line through the whole picture of 81 x 81 px."""
    points = straight(centre, angle_deg=angle_deg, length_px=300)
    line = Line(points=points, amplitude=amplitude, width_px=width_px)
    return lines_on_flat([line], size_px=(81, 81), background=background)


# --- gain and direction -----------------------------------------------------------------


@pytest.mark.parametrize("angle_deg", ANGLES_DEG)
def test_a_gaussian_line_of_the_reference_width_answers_with_its_amplitude(angle_deg: float) -> None:
    bright, _ = line_response(line_picture(angle_deg))
    # 0.1 %: the kernel is scaled on this very line; single precision and the four borrowed bits are left.
    assert bright[MIDDLE, MIDDLE] == pytest.approx(10.0, rel=1e-3)
    assert direction_index(bright)[MIDDLE, MIDDLE] * 180 / DIRECTIONS == angle_deg


@pytest.mark.parametrize("angle_deg", np.arange(0, 180, 3.75))
def test_lines_between_the_directions_lose_little(angle_deg: float) -> None:
    """Along a line that no kernel fits and that meets pixel centres anyhow."""
    response, _ = line_response(line_picture(angle_deg, centre=(MIDDLE + 0.2, MIDDLE + 0.3)))
    crest = ridge_points(response, response > 3).response
    # A pixel's centre lies up to half a pixel off the line, where this line has lost 13 %, and a kernel up to
    # half of 11.25 degrees.
    assert 0.85 < np.median(crest) / 10.0 <= 1.001


@pytest.mark.parametrize("angle_deg", [0.0, 20.0, 45.0, 77.0])
def test_dark_lines_answer_as_bright_ones_do(angle_deg: float) -> None:
    picture = line_picture(angle_deg)
    bright, _ = line_response(picture)
    _, dark = line_response(-picture)
    # Parts in a million: the index of the direction takes the four lowest bits.
    np.testing.assert_allclose(bright[INNER], dark[INNER], rtol=1e-5, atol=1e-5)


def test_response_is_linear() -> None:
    picture = line_picture(33.0)
    once, _ = line_response(picture)
    five, _ = line_response(5 * picture)
    strong = once > 0.1
    np.testing.assert_allclose(five[strong], 5 * once[strong], rtol=1e-4)


def test_response_turns_with_the_picture() -> None:
    picture = line_picture(20.0, width_px=1.2)
    bright, _ = line_response(picture)
    turned, _ = line_response(np.ascontiguousarray(np.rot90(picture)))
    np.testing.assert_allclose(turned, np.rot90(bright), rtol=1e-3, atol=1e-4)


def test_an_empty_bank_is_refused() -> None:
    with pytest.raises(ValueError, match="bank has no kernel"):
        line_response(line_picture(0.0), bank=())


# --- what it must not see ---------------------------------------------------------------


def grids() -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    rows, columns = np.mgrid[:81, :81].astype(np.float32) - MIDDLE
    return rows, columns


@pytest.mark.parametrize("slope", [(0.0, 0.0), (3.0, 0.0), (0.0, -3.0), (2.0, 2.0), (-1.0, 2.5)])
def test_constant_and_sloping_light_gives_nothing(slope: tuple[float, float]) -> None:
    rows, columns = grids()
    picture = (150 + slope[0] * rows + slope[1] * columns).astype(np.float32)
    for response in line_response(picture):
        # 0.01: single precision of sums over 121 numbers up to 400.
        assert np.abs(response[INNER]).max() < 0.01


@pytest.mark.parametrize("index", range(DIRECTIONS))
def test_light_curved_across_a_kernel_gives_it_nothing(index: int) -> None:
    rows, columns = grids()
    angle = np.pi * index / DIRECTIONS
    across = rows * np.cos(angle) - columns * np.sin(angle)
    bright, dark = line_response((across**2).astype(np.float32), bank=(kernel_bank()[index],))
    # 0.01: as above; the parabola reaches 1600 here, a real halo bends by some hundredths a square pixel.
    assert abs(bright[MIDDLE, MIDDLE]) < 0.01
    assert abs(dark[MIDDLE, MIDDLE]) < 0.01


@pytest.mark.parametrize("shape", ["valley", "bowl", "saddle"])
def test_evenly_curved_light_gives_no_direction_anything(shape: str) -> None:
    rows, columns = grids()
    bends = {"valley": rows**2, "bowl": rows**2 + columns**2, "saddle": rows * columns}
    for response in line_response(bends[shape].astype(np.float32)):
        assert np.abs(response[INNER]).max() < 0.05


@pytest.mark.parametrize("angle_deg", [0.0, 30.0, 45.0])
def test_a_line_stands_out_alike_on_level_and_on_sloping_light(angle_deg: float) -> None:
    rows, columns = grids()
    picture = line_picture(angle_deg)
    level, _ = line_response(picture)
    sloping, _ = line_response((picture + 100 + 2 * rows - columns).astype(np.float32))
    np.testing.assert_allclose(sloping[INNER], level[INNER], atol=0.01)


# --- absolute ---------------------------------------------------------------------------


@pytest.mark.parametrize("strength", [0.02, 0.5])
def test_removing_a_strong_line_leaves_faint_ones_unchanged_to_the_last_bit(strength: float) -> None:
    """General filters raised such lines 4.9 (meijering) and 13.9 times (frangi; scikit-image 0.26)."""
    rng = np.random.default_rng(4)
    noise = 0.003 * rng.standard_normal((200, 200)).astype(np.float32)
    faint = [
        Line(points=straight((row, 100), angle_deg=5, length_px=150), amplitude=0.02, width_px=1.0)
        for row in (40, 160)
    ]
    strong = Line(points=straight((100, 100), angle_deg=0, length_px=190), amplitude=strength, width_px=1.0)
    pictures = [
        lines_on_flat(x, size_px=(200, 200), background=0.2) + noise for x in ([*faint, strong], faint)
    ]
    with_strong, without = (line_response(stabilise(p, gain=1.0)) for p in pictures)
    reach = 7 + FAR  # a Gaussian drawn to six and more standard deviations, and a kernel
    far = np.r_[0 : 100 - reach, 101 + reach : 200]
    for one, two in zip(with_strong, without, strict=True):
        np.testing.assert_array_equal(one[far], two[far])
        assert np.abs(one[95:106] - two[95:106]).max() > 1  # it was there


def test_brightness_elsewhere_does_not_matter() -> None:
    picture = line_picture(20.0, background=50.0)
    spoilt = picture.copy()
    spoilt[:, -8:] = 155.0
    bright, dark = line_response(picture)
    bright2, dark2 = line_response(spoilt)
    near = (slice(None), slice(0, -8 - FAR))
    np.testing.assert_array_equal(bright[near], bright2[near])
    np.testing.assert_array_equal(dark[near], dark2[near])


# --- crest points -----------------------------------------------------------------------


@pytest.mark.parametrize("angle_deg", [0.0, 11.25, 20.0, 45.0, 63.0, 90.0, 110.0, 160.0])
@pytest.mark.parametrize("shift", [0.0, 0.25, 0.5])
def test_crest_points_lie_on_the_line(angle_deg: float, shift: float) -> None:
    turn = np.radians(angle_deg)
    normal = np.array([np.cos(turn), -np.sin(turn)])
    centre = np.array([MIDDLE, MIDDLE]) + shift * normal
    response, _ = line_response(line_picture(angle_deg, centre=tuple(centre)))
    found = ridge_points(response, response > 3)
    inner = (np.abs(found.pixels - MIDDLE) < 25).all(1)
    away = (found.points[inner] - centre) @ normal
    # 0.25 px: a parabola through three values of a peak that is none leaves 0.15.
    assert np.abs(away).max() < 0.25
    # Every one of 49 steps along the longer axis has its point, one at the window's corner aside.
    assert inner.sum() >= 48
    turned = (np.degrees(found.angle_rad[inner]) - angle_deg + 90) % 180 - 90
    # Half a step of direction, and a little where two kernels answer alike.
    assert np.abs(turned).max() <= 90 / DIRECTIONS + 1e-6


@pytest.mark.parametrize(
    ("angle_deg", "across_px"),
    [
        (0.0, 1.0),
        (10.0, 1.0),
        (10.0, 1.5),
        *(pytest.param(angle, across) for angle in (30.0, 44.0, 45.0, 46.0) for across in (1.0, 1.5)),
    ],
)
def test_a_line_has_one_crest_point_a_step(angle_deg: float, across_px: float) -> None:
    """Two rows of points beside each other break the links: pieces overlap, lengths go wrong by a third."""
    turn = np.radians(angle_deg)
    centre = (MIDDLE + 0.25 * np.cos(turn), MIDDLE - 0.25 * np.sin(turn))
    response, _ = line_response(
        line_picture(angle_deg, centre=centre, width_px=0.75), bank=kernel_bank(across_px=across_px)
    )
    found = ridge_points(response, response > 3)
    columns = found.pixels[(np.abs(found.pixels - MIDDLE) < 25).all(1), 1]
    # A tenth: where the line passes right between two pixels, both may be crests.
    assert len(columns) <= 1.1 * len(np.unique(columns))


def test_crest_points_of_a_ring_lie_on_the_ring() -> None:
    ring = arc((60.0, 60.0), radius_px=40.0, start_deg=0, sweep_deg=360)
    picture = lines_on_flat(
        [Line(points=ring, amplitude=10.0, width_px=0.95)], size_px=(121, 121), background=0
    )
    response, _ = line_response(picture)
    found = ridge_points(response, response > 3)
    radius = np.hypot(*(found.points - 60.0).T)
    # 0.3 px: as above, and straight kernels cut across the bend by 5 ** 2 / (2 * 40) / 3 = 0.1 px.
    assert np.abs(radius - 40.0).max() < 0.3


def test_only_candidates_are_looked_at() -> None:
    response, _ = line_response(line_picture(10.0))
    assert len(ridge_points(response, np.zeros(response.shape, np.bool_)).pixels) == 0
    half = response > 3
    half[:, :MIDDLE] = False
    assert ridge_points(response, half).pixels[:, 1].min() >= MIDDLE


def test_the_strength_does_not_move_a_crest() -> None:
    faint, _ = line_response(line_picture(20.0, amplitude=5.0))
    strong, _ = line_response(line_picture(20.0, amplitude=50.0))
    # 0.001 px: single precision of the three values.
    np.testing.assert_allclose(
        ridge_points(faint, strong > 20).points, ridge_points(strong, strong > 20).points, atol=1e-3
    )


# --- reading between pixels -------------------------------------------------------------


def sample(picture: NDArray[np.float32], points: NDArray[np.float64]) -> NDArray[np.float32]:
    rows, columns = points.T.astype(np.float32)[..., None]
    return look_up(picture, rows, columns)[:, 0]


def test_sampling_agrees_with_scipy() -> None:
    rng = np.random.default_rng(2)
    picture = rng.random((50, 70)).astype(np.float32)
    points = rng.uniform((0, 0), (49, 69), (200, 2))
    exact = ndimage.map_coordinates(picture, points.T, order=1)
    # 1/32 px: OpenCV rounds places to that, and the steepest step between two pixels is 1.
    np.testing.assert_allclose(sample(picture, points), exact, atol=1 / 32 + 1e-3)


def test_sampling_takes_more_points_than_opencv_has_rows() -> None:
    points = np.full((70_001, 2), 3.0)
    points[-1] = (2.0, 5.0)
    picture = np.arange(80, dtype=np.float32).reshape(8, 10)
    values = sample(picture, points)
    assert values.shape == (70_001,)
    assert values[0] == picture[3, 3]
    assert values[-1] == picture[2, 5]


def test_sampling_outside_takes_the_border() -> None:
    picture = np.arange(12, dtype=np.float32).reshape(3, 4)
    np.testing.assert_allclose(sample(picture, np.array([[-5.0, -5.0], [9.0, 9.0]])), [0.0, 11.0])
