"""Contrast and width along a path, read from pictures whose contrast and width are known."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from defectmap.panel.contrast import LineLight, gather, running_contrast, width_px
from defectmap.panel.measurement import Polarity
from defectmap.panel.paths import Paths, normals
from defectmap.panel.tuning import HALF_PROFILE_PX
from tests.phantom import arc, straight
from tests.rendered import LEVEL, NOISE, paper

WINDOW_PX = 29
FWHM_OF_SD = 2 * np.sqrt(2 * np.log(2))
ANGLES_DEG = [0.0, 22.5, 30.0, 45.0, 77.0, 90.0]


def along(
    angle_deg: float, *, length_px: float = 200.0, centre: tuple[float, float] = (200.0, 200.0)
) -> NDArray[np.float64]:
    """One point a pixel along a straight line."""
    start, stop = straight(centre, angle_deg=angle_deg, length_px=length_px)
    return np.linspace(start, stop, round(length_px) + 1)


def drawn(angle_deg: float = 30.0, **options: Any) -> NDArray[np.float32]:
    return paper([straight((200.0, 200.0), angle_deg=angle_deg, length_px=300)], **options)


def read(picture: NDArray[np.float32], path: NDArray[np.float64], polarity: Polarity = "bright") -> LineLight:
    return gather(picture, Paths.of([path]), gain=1.0, polarity=polarity)


def running_median(evidence: LineLight, path: NDArray[np.float64]) -> NDArray[np.float32]:
    return running_contrast(evidence, Paths.of([path]), window_px=WINDOW_PX)


# --- contrast ---------------------------------------------------------------------------


@pytest.mark.parametrize("angle_deg", ANGLES_DEG)
@pytest.mark.parametrize("cnr", [5.0, 10.0, 40.0])
def test_contrast_to_noise_is_that_of_the_line(cnr: float, angle_deg: float) -> None:
    evidence = read(drawn(angle_deg, cnr=cnr), along(angle_deg))
    # 15 %: three pixels stand for the peak, and where the line meets them differs from place to place; and
    # the noise of a surround of few pixels, 0.6.
    assert np.median(evidence.contrast_to_noise) == pytest.approx(cnr, abs=0.15 * cnr + 0.6)


@pytest.mark.parametrize("angle_deg", ANGLES_DEG)
def test_a_dark_line_reads_as_a_bright_one(angle_deg: float) -> None:
    dark = read(drawn(angle_deg, cnr=-10.0, noise=0.0), along(angle_deg), "dark").contrast_to_noise
    bright = read(drawn(angle_deg, cnr=10.0, noise=0.0), along(angle_deg), "bright").contrast_to_noise
    # 1 %: the surround is the same, and so is the unit of noise.
    np.testing.assert_allclose(dark, bright, rtol=0.01)


def test_the_other_polarity_has_contrast_below_zero() -> None:
    evidence = read(drawn(cnr=10.0, noise=0.0), along(30.0), "dark")
    assert (evidence.contrast_to_noise < 0).all()
    assert (running_median(evidence, along(30.0)) < 0).all()


def test_no_line_has_no_contrast() -> None:
    evidence = read(paper([]), along(30.0))
    # 1.5 noise of a pixel: three pixels against a surround of a few that may be chosen dark.
    assert abs(np.median(evidence.contrast_to_noise)) < 1.5


def test_contrast_hardly_depends_on_focus() -> None:
    """The same light in a line, spread by more or less blur: what `three pixels wide` is for."""
    values = []
    for sd in (0.6, 0.8, 1.0, 1.2):
        picture = drawn(cnr=10.0 / sd, width_px=sd, noise=0.0)
        values.append(float(np.median(read(picture, along(30.0)).contrast_to_noise)))
    # A third while the peak itself halves.
    assert max(values) / min(values) < 1.33


def test_surround_is_the_light_beside_the_line() -> None:
    evidence = read(drawn(cnr=40.0, noise=0.0), along(30.0))
    # 2 %: six standard deviations of the line are left at its surround.
    np.testing.assert_allclose(evidence.surround, LEVEL, rtol=0.02)


def test_a_sloping_surround_changes_nothing() -> None:
    rows, columns = np.mgrid[:400, :400]
    slope = (2e-4 * (rows - 200) - 1e-4 * (columns - 200)).astype(np.float32)
    level = read(drawn(cnr=10.0, noise=0.0), along(30.0))
    sloping = read(drawn(cnr=10.0, noise=0.0) + slope, along(30.0))
    values = [running_median(evidence, along(30.0)) for evidence in (level, sloping)]
    # 10 %: the unit of noise follows the light, which changes by 10 % along the line.
    np.testing.assert_allclose(values[1], values[0], rtol=0.1)


# --- along the line ---------------------------------------------------------------------


def test_a_bead_of_light_does_not_reach_into_its_surround() -> None:
    """A crossing makes a bead; a mean along the line would smear it into a false short mark."""
    beads = [arc((200.0, 200.0), radius_px=1.5, start_deg=0, sweep_deg=360)]
    picture = paper(beads, cnr=100.0)
    evidence = read(picture, along(0.0))
    assert evidence.contrast_to_noise.max() > 50  # it is there
    running = running_median(evidence, along(0.0))
    # 3 noise, the limit of what counts; noise alone gives 1.
    assert running.max() < 3.0


def test_a_gap_in_a_line_is_read_as_a_gap() -> None:
    pieces = [straight((200.0, c), angle_deg=0, length_px=80) for c in (110.0, 290.0)]
    running = running_median(read(paper(pieces, cnr=10.0), along(0.0)), along(0.0))
    middle = len(running) // 2
    assert running[middle - 20 : middle + 20].max() < 3.0
    assert min(running[:30].min(), running[-30:].min()) > 6.0


@pytest.mark.parametrize("polarity", ["bright", "dark"])
def test_a_step_of_light_is_no_line(polarity: Polarity) -> None:
    rows, _ = np.mgrid[:400, :400]
    step = np.where(rows < 200, LEVEL + 20 * NOISE, LEVEL).astype(np.float32)
    for row in np.arange(196.0, 204.5, 0.5):
        evidence = read(step, along(0.0, centre=(row, 200.0)), polarity)
        running = running_median(evidence, along(0.0))
        # A fifth of the step at most, wherever the path runs; a line of that height would give all of it.
        assert running.max() < 4.0


def test_a_broad_hump_is_told_from_a_line() -> None:
    line = read(drawn(cnr=10.0, width_px=0.95, noise=0.0), along(30.0))
    hump = read(drawn(cnr=10.0, width_px=6.0, noise=0.0), along(30.0))
    # A line leaves its near surround dark; a hump of 14 px brightens it.
    assert abs(np.median(line.hump)) < 0.5
    assert np.median(hump.hump) > 2.0


# --- width ------------------------------------------------------------------------------


@pytest.mark.parametrize("sd", [0.7, 0.95, 1.2, 1.5])
@pytest.mark.parametrize(("polarity", "sign"), [("bright", 1), ("dark", -1)])
def test_width_is_the_full_width_at_half_height(sd: float, polarity: Polarity, sign: int) -> None:
    evidence = read(drawn(cnr=sign * 20.0, width_px=sd), along(30.0), polarity)
    # A pixel's width and reading between pixels add 0.3 to 0.5 px² to the variance of fine lines: 20 %.
    assert width_px(evidence.profile, polarity) == pytest.approx(FWHM_OF_SD * sd, rel=0.2)


def test_wider_lines_read_wider() -> None:
    widths = [
        width_px(read(drawn(cnr=20.0, width_px=sd), along(30.0)).profile, "bright")
        for sd in (0.6, 0.8, 1.0, 1.3, 1.7, 2.2)
    ]
    assert (np.diff(widths) > 0).all()


def test_nothing_has_no_width() -> None:
    assert width_px(np.full((20, 2 * HALF_PROFILE_PX + 1), 0.3, np.float32), "bright") == 0.0


# --- shapes -----------------------------------------------------------------------------


def test_several_paths_are_read_each_by_itself() -> None:
    picture = drawn(cnr=10.0)
    paths = [along(30.0), along(0.0, length_px=40.0, centre=(60.0, 330.0))]
    together = gather(picture, Paths.of(paths), gain=1.0, polarity="bright")
    running = running_contrast(together, Paths.of(paths), window_px=WINDOW_PX)
    start = 0
    for path in paths:
        piece = slice(start, start + len(path))
        start += len(path)
        apart, here = read(picture, path), together.part(piece)
        np.testing.assert_allclose(here.contrast_to_noise, apart.contrast_to_noise, rtol=1e-5, atol=1e-5)
        np.testing.assert_allclose(running[piece], running_median(apart, path), rtol=1e-5, atol=1e-5)
        assert here.profile.shape == (len(path), 2 * HALF_PROFILE_PX + 1)


def test_no_path_has_no_evidence() -> None:
    assert len(gather(paper([]), Paths.of([]), gain=1.0, polarity="bright").left) == 0


def test_normals_stand_across_the_path() -> None:
    path = arc((50.0, 50.0), radius_px=30.0, start_deg=10.0, sweep_deg=100.0, step_px=1.0)
    across = normals(Paths.of([path]))
    radial = (path - 50.0) / 30.0
    np.testing.assert_allclose(np.hypot(*across.T), 1.0, atol=1e-9)
    # 0.03: the ends are one-sided differences over a bend of 1/30 a pixel.
    np.testing.assert_allclose(np.abs((across * radial).sum(1)), 1.0, atol=0.03)
