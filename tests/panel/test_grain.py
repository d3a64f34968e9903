"""The grain of a picture: read from the picture, whatever a tag says."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from defectmap.panel.background import Background
from defectmap.panel.detection_limit import detection_limit, faintest_um, noise_seen
from defectmap.panel.grain import grain_factor
from defectmap.panel.noise import pixel_noise, stabilise
from defectmap.panel.ridges import line_response
from defectmap.panel.tuning import LINE_AREA_PX, SEEN_FROM
from tests.phantom import Shot
from tests.rendered import lit, phantom

SIZE = (400, 600)


def even_light(level: float) -> Background:
    blocks = np.full((SIZE[0] // 8, SIZE[1] // 8), level, np.float32)
    return Background(blocks=blocks, block_px=8, shape=SIZE)


def factor_of(picture: NDArray[np.float64], *, gain: float = 1.0, level: float = 0.2) -> Background:
    bright, dark = line_response(picture.astype(np.float32))
    return grain_factor(bright, dark, even_light(level), np.ones(SIZE, np.bool_), gain=gain)


def white_noise(spread: float, *, seed: int = 0) -> NDArray[np.float64]:
    return spread * np.random.default_rng(seed).standard_normal(SIZE)


@pytest.mark.parametrize("spread", [0.5, 1.0, 2.0, 5.0])
def test_grain_is_told_as_a_multiple_of_the_noise(spread: float) -> None:
    # 5 %: the quartile is taken from every fourth pixel each way, 15,000 of them.
    np.testing.assert_allclose(factor_of(white_noise(spread)).blocks, spread, rtol=0.05)


def test_what_is_smoother_than_a_good_sensor_is_taken_for_smoothed() -> None:
    np.testing.assert_allclose(factor_of(white_noise(0.05)).blocks, 0.35)


def test_marks_move_the_grain_by_less_than_a_fifth() -> None:
    clean, swirled = phantom("clean", Shot()), phantom("swirled", Shot())
    factors = []
    for seen in (clean, swirled):
        found = lit(seen)
        bright, dark = line_response(stabilise(seen.luminance, gain=1.0))
        factors.append(grain_factor(bright, dark, found.back, found.zone, gain=1.0).full())
    assert np.median((factors[1] / factors[0])[found.zone]) < 1.2


def test_a_wrong_tag_changes_no_limit() -> None:
    """Factor and model are read together: what the tag adds to one it takes from the other."""
    light = np.float32(0.2) + np.float32(0.01) * white_noise(1.0).astype(np.float32)
    limits = []
    for gain in (1.0, 16.0, 512.0):
        bright, dark = line_response(stabilise(light, gain=gain))
        grain = grain_factor(bright, dark, even_light(0.2), np.ones(SIZE, np.bool_), gain=gain)
        limits.append(float(np.median(faintest_um(even_light(0.2), grain, gain=gain, px_per_mm=20.0).blocks)))
    # 2 %: the scale on which noise is even bends a little over the noise itself
    assert limits == pytest.approx([limits[0]] * 3, rel=0.02)
    # from the definition: a line of that peak, its area over the light beside it; 5 % as above
    assert limits[0] == pytest.approx(SEEN_FROM * 0.01 / 0.2 * LINE_AREA_PX / 20.0 * 1000, rel=0.05)


def test_fewer_pixels_a_millimetre_or_less_light_show_less() -> None:
    grain = even_light(1.0)
    near = faintest_um(even_light(0.05), grain, gain=1.0, px_per_mm=20.0).blocks
    assert (faintest_um(even_light(0.05), grain, gain=1.0, px_per_mm=10.0).blocks == 2 * near).all()
    assert (faintest_um(even_light(0.01), grain, gain=1.0, px_per_mm=20.0).blocks > near).all()
    noise = float(pixel_noise(np.asarray(0.05, np.float32), gain=1.0))
    assert float(near[0, 0]) == pytest.approx(SEEN_FROM * noise / 0.05 * LINE_AREA_PX / 20.0 * 1000, rel=1e-5)


def test_a_photographs_limit_is_the_median_of_its_zone_as_the_noise_of_its_light_has_it() -> None:
    """Shot noise of 6,000 electrons and 3 of reading (from memory), worked out by hand."""
    left = np.zeros(SIZE, np.bool_)
    left[:, : SIZE[1] // 2] = True
    back, grain = even_light(0.2), even_light(2.0)
    faintest = even_light(80.0)
    faintest.blocks[:, SIZE[1] // 16 :] = 500.0
    found = detection_limit(back, noise_seen(back, grain, gain=4.0), faintest, left, length=1.0)
    noise = 2 * np.sqrt(0.2 * 4 / 6000 + (3 * 4 / 6000) ** 2)
    assert found.contrast == pytest.approx(SEEN_FROM * noise / 0.2, rel=1e-5)
    assert (found.equivalent_width_um, found.length_mm, found.contrast_to_noise) == (80.0, 1.0, SEEN_FROM)
