"""Two halos held against each other: exposure, tone curve, and haze that came or went."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from defectmap.comparison.conditions import Evidence, evidence
from defectmap.comparison.halo import halo_difference
from defectmap.comparison.line_light import line_light_factor
from tests import phantom
from tests.comparison import phantoms

BLACK = phantom.Panel(seed=3)
WHITE = phantom.Panel(seed=4, body=(0.5, 0.5, 0.49))


@cache
def halo_of(panel: phantom.Panel, *, ev: float = 0.0, height_mm: float = 480.0, seed: int = 1) -> Evidence:
    hand = np.random.default_rng(seed).normal(0, 3, 2)
    lamp = (-8.0 + hand[0], 6.0 + hand[1], height_mm)
    shot = phantoms.shot(panel=panel, seed=seed, ev=ev, lamp_mm=lamp)
    return evidence(shot.photo, shot.measured, cells_per_mm=4.0)


@pytest.mark.parametrize("ev", [0.0, 0.3])
@pytest.mark.parametrize("share", [0.03, 0.06, 0.1])
def test_haze_polished_off_darkens_what_lies_beyond_the_lamps_image(share: float, ev: float) -> None:
    found = halo_difference(halo_of(replace(BLACK, haze=share)), halo_of(BLACK, ev=ev, seed=2))
    assert found.hazed
    assert not found.toned
    # both lobes are GGX (`phantom.lamp`): far from the lamp the broad one is most of the hazy coat's light
    assert -1.2 < found.beside_stops[-20:].mean() < -0.25
    back = halo_difference(halo_of(BLACK, seed=2), halo_of(replace(BLACK, haze=share)))
    assert back.hazed
    assert back.beside_stops[-20:].mean() > 0.25


@pytest.mark.parametrize("panel", [BLACK, WHITE])
@pytest.mark.parametrize("ev", [-0.3, 0.0, 0.4])
def test_a_hand_that_moves_the_lamp_is_no_haze(panel: phantom.Panel, ev: float) -> None:
    found = halo_difference(halo_of(panel), halo_of(panel, ev=ev, height_mm=485.0, seed=2))
    assert not found.hazed
    assert line_light_factor(halo_of(panel), halo_of(panel, seed=2), found) is None


def test_a_tone_curve_bends_the_light_beside_the_lamp_as_well() -> None:
    first = halo_of(BLACK)
    curved = replace(halo_of(BLACK, seed=2), halo_log2=0.75 * halo_of(BLACK, seed=2).halo_log2)
    found = halo_difference(first, curved)
    assert found.toned
    assert not found.hazed
    assert found.tone == pytest.approx(0.75, abs=0.03)
