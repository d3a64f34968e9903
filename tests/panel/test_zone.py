"""Where marks count: light and noise decide, marks do not."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from defectmap.panel.background import Background
from defectmap.panel.tuning import BRIGHTEST_SURROUND
from defectmap.panel.zone import able, lit_zone
from tests.phantom import Panel, Shot
from tests.rendered import found_in, lit, phantom

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
def test_clean_and_swirled_panels_get_the_same_zone(shot: Shot, panel: Panel, marks: str) -> None:
    one, two = found_in(phantom("clean", shot, panel)).zone, found_in(phantom(marks, shot, panel)).zone
    # 0.5 % of its area: a tenth of the smallest change of a density that is worth telling.
    assert (one ^ two).sum() < 0.005 * one.sum()


def test_the_zone_holds_most_of_the_lit_panel_and_not_the_lamp() -> None:
    seen = lit(phantom("clean", PLAIN))
    rows, columns = np.nonzero(seen.zone)
    away = np.hypot(rows - seen.hotspot.row, columns - seen.hotspot.column)
    assert away.min() > seen.hotspot.radius_px
    # 60 % of the picture outside the lamp is what the zone has to hold at least.
    assert seen.zone.mean() > 0.6
    assert not seen.zone[[0, -1]].any()
    assert not seen.zone[:, [0, -1]].any()


def test_burnt_paint_is_not_in_the_zone() -> None:
    seen = phantom("clean", replace(PLAIN, ev=1.0))
    found = lit(seen)
    # 0.5 %: orange peel, smoothed away in the background, lifts single places of the rim over the limit.
    assert (seen.clean[found.zone] > BRIGHTEST_SURROUND).mean() < 0.005


def test_a_stronger_demand_never_takes_from_the_zone() -> None:
    blocks = np.linspace(10, 1000, 50 * 75).reshape(50, 75)
    faintest = Background(blocks=blocks.astype(np.float32), block_px=8, shape=(400, 600))
    everywhere = np.ones((400, 600), np.bool_)
    zones = [able(everywhere, faintest, um=um) for um in (50.0, 100.0, 300.0, 2000.0)]
    for less, more in pairwise(zones):
        assert not (less & ~more).any()
    assert zones[-1].all()
    # 1 %: half a block of 8 px of 400 rows
    assert zones[2].mean() == pytest.approx(290 / 990, abs=0.01)


def test_what_is_masked_is_not_in_the_zone_and_the_rest_stays() -> None:
    seen = lit(phantom("clean", PLAIN))
    masked = np.zeros(seen.zone.shape, np.bool_)
    masked[100:200, 50:150] = True
    zone = lit_zone(seen.back, seen.hotspot, masked=masked)
    np.testing.assert_array_equal(zone, seen.zone & ~masked)
