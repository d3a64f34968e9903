"""Where marks count: light and noise decide, marks do not."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from defectmap.panel.hotspot import Background
from defectmap.panel.measurement import Hotspot
from defectmap.panel.noise import pixel_noise, stabilise
from defectmap.panel.ridges import line_response
from defectmap.panel.zone import (
    BRIGHTEST_SURROUND,
    LIMIT_CONTRAST_TO_NOISE,
    lit_zone,
    reference_contrast,
    texture_factor,
)
from tests.phantom import Panel, Shot
from tests.rendered import lit, phantom

PLAIN = Shot()
SILVER, HAZY = Panel(body=(0.3, 0.3, 0.3)), Panel(alpha=0.022)


@pytest.mark.parametrize(
    ("shot", "panel"),
    [
        pytest.param(PLAIN, Panel(), id="black"),
        pytest.param(PLAIN, SILVER, id="silver"),
        pytest.param(PLAIN, HAZY, id="hazy"),
        pytest.param(replace(PLAIN, ev=-1.5), Panel(), id="under", marks=pytest.mark.slow),
        pytest.param(replace(PLAIN, ev=1.0), Panel(), id="over"),
        pytest.param(replace(PLAIN, iso=800.0), Panel(), id="noisy"),
        pytest.param(replace(PLAIN, lamps=7), Panel(), id="cluster", marks=pytest.mark.slow),
    ],
)
@pytest.mark.parametrize("marks", [pytest.param("swirled", marks=pytest.mark.slow), "dense"])
def test_clean_and_swirled_panels_get_the_same_zone(shot, panel, marks):
    one, two = lit(phantom("clean", shot, panel)).zone, lit(phantom(marks, shot, panel)).zone
    # 0.5 % of its area: a tenth of the smallest change of a density that is worth telling.
    assert (one ^ two).sum() < 0.005 * one.sum()


def test_the_zone_holds_most_of_the_lit_panel_and_not_the_lamp():
    seen = lit(phantom("clean", PLAIN))
    rows, columns = np.nonzero(seen.zone)
    away = np.hypot(rows - seen.hotspot.row, columns - seen.hotspot.column)
    assert away.min() > seen.hotspot.radius_px
    # 60 % of the picture outside the lamp is what the zone has to hold at least.
    assert seen.zone.mean() > 0.6
    assert not seen.zone[[0, -1]].any()
    assert not seen.zone[:, [0, -1]].any()


def test_burnt_paint_is_not_in_the_zone():
    seen = phantom("clean", replace(PLAIN, ev=1.0))
    found = lit(seen)
    # 0.5 %: orange peel, smoothed away in the background, lifts single places of the rim over the limit.
    assert (seen.clean[found.zone] > BRIGHTEST_SURROUND).mean() < 0.005


def test_more_noise_never_adds_to_the_zone():
    seen = lit(phantom("clean", replace(PLAIN, ev=-1.5)))
    zones = [lit_zone(seen.back, seen.hotspot, gain=gain) for gain in (1.0, 4.0, 16.0, 64.0, 256.0)]
    for quiet, loud in pairwise(zones):
        assert not (loud & ~quiet).any()
    assert zones[-1].sum() < zones[0].sum()


def test_what_is_masked_is_not_in_the_zone_and_the_rest_stays():
    seen = lit(phantom("clean", PLAIN))
    masked = np.zeros(seen.zone.shape, np.bool_)
    masked[100:200, 50:150] = True
    zone = lit_zone(seen.back, seen.hotspot, gain=1.0, masked=masked)
    np.testing.assert_array_equal(zone, seen.zone & ~masked)


def even_light(level, *, shape=(400, 600)):
    blocks = np.full((shape[0] // 8, shape[1] // 8), level, np.float32)
    return Background(blocks=blocks, block_px=8, shape=shape)


def test_zone_ends_where_the_reference_mark_sinks_into_the_noise():
    """On even light the outline is a circle whose radius follows from the definition."""
    hotspot, gain = Hotspot(row=200.0, column=300.0, radius_px=6.0, lamps=1), 4.0
    zone = lit_zone(even_light(0.05), hotspot, gain=gain)
    noise = float(pixel_noise(np.float32(0.05), gain=gain))
    reach = hotspot.radius_px / np.sqrt(LIMIT_CONTRAST_TO_NOISE * noise)
    rows, columns = np.nonzero(zone)
    away = np.hypot(rows - hotspot.row, columns - hotspot.column)
    # 1 px: interpolation between blocks of 8 px. The radius must lie inside the picture to be seen at all.
    assert 30 < reach < 190
    assert away.max() == pytest.approx(reach, abs=1.0)


def test_reference_contrast_falls_with_the_square_of_distance():
    hotspot = Hotspot(row=0.0, column=0.0, radius_px=50.0, lamps=1)
    away = np.array([0.0, 25.0, 50.0, 100.0, 200.0], np.float32)
    np.testing.assert_allclose(reference_contrast(away, hotspot), [1, 1, 1, 1 / 4, 1 / 16], rtol=1e-6)


def texture_of(picture, *, level=0.2):
    bright, dark = line_response(picture.astype(np.float32))
    inside = np.ones(picture.shape, np.bool_)
    return texture_factor(bright, dark, even_light(level, shape=picture.shape), inside).full()


def white_noise(spread, *, seed=0):
    return spread * np.random.default_rng(seed).standard_normal((400, 600))


@pytest.mark.parametrize("spread", [1.0, 2.0, 5.0])
def test_texture_is_told_as_a_multiple_of_the_noise(spread):
    # 5 %: the quartile is taken from every fourth pixel each way, 15,000 of them.
    np.testing.assert_allclose(texture_of(white_noise(spread)), spread, rtol=0.05)


def test_texture_is_never_below_one():
    np.testing.assert_array_equal(texture_of(white_noise(0.1)), 1.0)


def test_marks_move_the_texture_by_less_than_a_fifth():
    clean, dense = phantom("clean", PLAIN), phantom("swirled", PLAIN)
    factors = []
    for seen in (clean, dense):
        found = lit(seen)
        bright, dark = line_response(stabilise(seen.luminance, gain=1.0))
        factors.append(texture_factor(bright, dark, found.back, found.zone).full())
    assert np.median((factors[1] / factors[0])[found.zone]) < 1.2
