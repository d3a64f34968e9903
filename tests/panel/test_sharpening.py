"""Sharpening read from lines: against a reference library's unsharp mask, and taken back."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from skimage.filters import unsharp_mask

from defectmap.panel.measurement import Sharpening
from defectmap.panel.paths import Paths
from defectmap.panel.photo.colour import to_codes, to_light
from defectmap.panel.sharpening import margin_px, sharpening, taken_back
from defectmap.panel.strength import equivalent_width

PX_PER_MM = 12.0
SIDE_PX = 600
LINE_SD_PX = 1.0


def scene(
    *, count: int = 40, strength_um: float = 150.0, beside: float = 0.0
) -> tuple[NDArray[np.float64], Paths]:
    """Straight lines of one equivalent width on even light, at all slants; neighbours of a share of it."""
    rng = np.random.default_rng(5)
    apart = np.random.default_rng(6).uniform(4.0, 9.0, (count, 2))
    rows, columns = np.mgrid[:SIDE_PX, :SIDE_PX].astype(float)
    light, paths = np.full((SIDE_PX, SIDE_PX), 0.05), []
    height = strength_um / 1000 * PX_PER_MM / (LINE_SD_PX * np.sqrt(2 * np.pi))
    for index in range(count):
        angle = rng.uniform(0, np.pi)
        along, across = np.array([np.sin(angle), np.cos(angle)]), np.array([np.cos(angle), -np.sin(angle)])
        middle = np.array([30 + 14 * index, rng.uniform(50, SIDE_PX - 50)])
        reach = np.arange(-20.0, 21.0)
        aside = (rows - middle[0]) * across[0] + (columns - middle[1]) * across[1]
        ahead = np.abs((rows - middle[0]) * along[0] + (columns - middle[1]) * along[1])
        for away, share in ((0.0, 1.0), (-apart[index, 0], beside), (apart[index, 1], beside)):
            line = np.exp(-((aside - away) ** 2) / (2 * LINE_SD_PX**2)) * (ahead < 28)
            light += 0.05 * height * share * line
        paths.append(middle + reach[:, None] * along)
    return light, Paths.of(paths)


def filed(codes: NDArray[np.float64]) -> NDArray[np.float32]:
    """Light of an 8-bit file of these codes."""
    return np.asarray(to_light(np.round(255 * np.clip(codes, 0, 1)) / 255), np.float32)


def strength(light: NDArray[np.float32], paths: Paths, done: Sharpening | None = None) -> float:
    um, _ = equivalent_width(light, paths, px_per_mm=PX_PER_MM, done=done)
    return float(np.median(um))


@pytest.mark.parametrize(("amount", "sd_px"), [(0.5, 2.0), (1.0, 1.2), (1.5, 1.5), (1.0, 2.5)])
def test_the_reference_librarys_mask_is_read_and_taken_back(amount: float, sd_px: float) -> None:
    # scikit-image 0.22: unsharp_mask, original + amount * (original - blurred)
    light, paths = scene()
    codes = to_codes(light)
    plain, sharp = filed(codes), filed(unsharp_mask(codes, radius=sd_px, amount=amount))
    done = sharpening(sharp, paths)
    assert done is not None
    # told together: a mask as narrow as the line adds amount · sd² of its curvature, whatever the two are
    assert done.amount * min(done.sd_px, 2.0) ** 2 == pytest.approx(amount * min(sd_px, 2.0) ** 2, rel=0.4)
    before, gained = strength(plain, paths), strength(sharp, paths)
    assert gained > 1.06 * before
    assert strength(sharp, paths, done) == pytest.approx(before, rel=0.07)  # of a gain of up to 73 %


def test_a_picture_as_taken_is_left_as_it_is() -> None:
    light, paths = scene()
    done = sharpening(filed(to_codes(light)), paths)
    assert done is not None
    assert done.amount == 0
    assert abs(done.overshoot) < 0.01


def test_faint_neighbours_along_the_line_do_not_fill_the_lobe() -> None:
    light, paths = scene(beside=0.12)
    codes = to_codes(light)
    plain, sharp = filed(codes), filed(unsharp_mask(codes, radius=1.2, amount=1.0))
    before, after = sharpening(plain, paths), sharpening(sharp, paths)
    assert before is not None
    assert after is not None
    assert before.amount == 0
    assert strength(sharp, paths, after) == pytest.approx(strength(plain, paths), rel=0.07)


@pytest.mark.parametrize(("pitch_px", "every"), [(12.0, 1), (12.0, 3), (6.0, 1)])
def test_gaps_between_parallel_marks_are_no_lobes(pitch_px: float, every: int) -> None:
    # trails of one pitch, of which every so many is found: beside each it is as dark as paint is, and farther
    # out lies the next
    rows = np.mgrid[:SIDE_PX, :SIDE_PX][0].astype(float)
    middles = np.arange(40.0, SIDE_PX - 40.0, pitch_px)
    light = 0.05 * (1 + sum(1.5 * np.exp(-((rows - middle) ** 2) / 2) for middle in middles))
    along = np.arange(50.0, SIDE_PX - 50.0)
    found = middles[::every]
    paths = Paths.of([np.column_stack([np.full(len(along), middle), along]) for middle in found])
    done = sharpening(filed(to_codes(light)), paths)
    assert done is None or done.amount == 0


def test_few_lines_say_nothing() -> None:
    light, paths = scene()
    few = paths.keep(np.arange(len(paths)) < 11)
    assert sharpening(filed(to_codes(light)), few) is None


def test_lines_that_drown_in_the_steps_of_a_file_say_nothing() -> None:
    light, paths = scene(strength_um=8.0)
    assert sharpening(filed(to_codes(light)), paths) is None


def test_taking_back_undoes_the_mask_on_a_profile_of_closed_form() -> None:
    # a Gaussian of sd s blurred by one of sd r is one of sd √(s² + r²), its height down by s over that
    amount, sd_px, line = 1.2, 1.6, 1.3
    done = Sharpening(overshoot=0.1, amount=amount, sd_px=sd_px)
    margin = int(np.ceil(margin_px(done)))
    away = np.arange(-10 - margin, 11 + margin, dtype=float)
    wide = np.hypot(line, sd_px)
    plain = np.exp(-(away**2) / (2 * line**2))
    blurred = line / wide * np.exp(-(away**2) / (2 * wide**2))
    sharp = 0.3 + 0.2 * (plain + amount * (plain - blurred))
    back = taken_back(np.asarray(to_light(sharp), np.float32)[None], done, step_px=1.0, margin=margin)
    wanted = to_light(0.3 + 0.2 * plain)[margin:-margin]
    np.testing.assert_allclose(back[0], wanted, atol=2e-3)


def test_even_light_stays_even() -> None:
    done = Sharpening(overshoot=0.1, amount=2.0, sd_px=1.5)
    margin = int(np.ceil(margin_px(done)))
    light = np.full((3, 9 + 2 * margin), 0.2, np.float32)
    np.testing.assert_allclose(taken_back(light, done, step_px=1.0, margin=margin), 0.2, rtol=1e-5)
