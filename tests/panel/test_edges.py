"""Lines that are no marks: lips of gaps, tape, reflected edges; and bright lines that no lamp could light."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from defectmap import measure
from defectmap.panel.background import background
from defectmap.panel.edges import can_glint, crowds, off_tangent_deg, round_share
from defectmap.panel.hotspot import find_hotspot, halo_profile, other_lights
from defectmap.panel.measurement import Hotspot, PanelMeasurement
from defectmap.panel.paths import Paths, lengths_px, resample
from tests.phantom import Panel, Shot, arc, photograph, straight, swirls
from tests.rendered import file_of

LAMP = Hotspot(row=0.0, column=0.0, radius_px=50.0, lamps=1)
SHOT = Shot(size_px=(1200, 1600), px_per_mm=20.0)
SECOND = replace(SHOT, second_lamp_mm=(40.0, -60.0, 480.0), second_power=0.3)


def measured(*, obstacles: Any = (), density: float = 0.0) -> PanelMeasurement:
    grooves = swirls(4, density_mm_per_cm2=density) if density else []
    return measure(file_of(photograph(grooves, SHOT, panel=Panel(obstacles=obstacles)).rgb), px_per_mm=20.0)


@pytest.mark.parametrize("obstacle", ["gap", "tape", "door"])
def test_an_obstacle_on_clean_paint_is_no_mark(obstacle: str) -> None:
    # 0.2 mm/cm² is what a clean panel may show.
    assert measured(obstacles=(obstacle,)).density.all <= 0.2


def test_an_obstacle_leaves_the_density_beside_it_alone() -> None:
    plain, gapped = measured(density=60.0), measured(obstacles=("gap",), density=60.0)
    # 10 %: marks under the gap are gone with their piece of zone, and the panel is not equally swirled.
    assert gapped.density.all == pytest.approx(plain.density.all, rel=0.1)


def off_deg(
    *lines: NDArray[np.float64], lamps: list[Hotspot] | tuple[Hotspot] = (LAMP,)
) -> NDArray[np.float64]:
    return off_tangent_deg(Paths.of(lines), lamps)


@pytest.mark.parametrize("start_deg", [0.0, 37.0, 180.0])
def test_a_circle_round_the_lamp_lies_on_the_tangent(start_deg: float) -> None:
    ring = arc((0.0, 0.0), radius_px=300, start_deg=start_deg, sweep_deg=40)
    assert off_deg(ring) < 0.5  # half the step between two points
    assert can_glint(off_deg(ring)).all()


def test_a_line_at_the_lamp_cannot_shine_unless_another_lamp_lights_it() -> None:
    radial = straight((0.0, 400.0), angle_deg=0, length_px=200)
    assert off_deg(radial) > 89
    assert not can_glint(off_deg(radial)).any()
    assert can_glint(off_deg(radial, lamps=[LAMP, replace(LAMP, row=500.0, column=400.0)])).all()


def test_directions_at_random_do_not_run_round_the_lamp() -> None:
    rng = np.random.default_rng(0)
    places = rng.uniform(-800, 800, (60, 2))
    random = [
        straight(tuple(p), angle_deg=a, length_px=60)
        for p, a in zip(places, rng.uniform(0, 180, 60), strict=True)
    ]
    rings = [arc((0.0, 0.0), radius_px=r, start_deg=r, sweep_deg=15) for r in range(200, 800, 20)]
    share = share_round(random)
    assert share is not None
    assert share < 0.62
    assert share_round(rings) == 1.0
    assert share_round(random[:9]) is None  # too few to say


def share_round(lines: list[NDArray[np.float64]]) -> float | None:
    return round_share(off_deg(*lines), lengths_px(Paths.of(lines)))


def test_a_crowd_of_lines_in_every_direction_is_left_out_and_rings_are_not() -> None:
    rng = np.random.default_rng(1)
    places = rng.uniform(50, 350, (150, 2))
    random = [
        straight(tuple(p), angle_deg=a, length_px=40)
        for p, a in zip(places, rng.uniform(0, 180, 150), strict=True)
    ]
    rings = [arc((0.0, 0.0), radius_px=r, start_deg=r % 80, sweep_deg=15) for r in range(450, 1000, 5)]
    for lines, crowd in ((random + rings, True), (rings, False)):
        paths = resample(Paths.of(lines))
        mask = crowds(paths, off_tangent_deg(paths, [LAMP]), scale=20.0, shape=(1000, 1000))
        assert (mask is not None) == crowd
    paths = resample(Paths.of(random))
    mask = crowds(paths, off_tangent_deg(paths, [LAMP]), scale=20.0, shape=(1000, 1000))
    assert mask is not None
    assert mask[100:300, 100:300].all()
    assert not mask[600:].any()


def lights_in(shot: Shot) -> tuple[Any, ...]:
    luminance = photograph(swirls(4, density_mm_per_cm2=60.0), shot).luminance
    hotspot, back = find_hotspot(luminance), background(luminance)
    return hotspot, other_lights(back, hotspot, halo_profile(back, hotspot))


def test_one_lamp_has_no_company() -> None:
    assert lights_in(SHOT)[1] == []


def test_a_second_light_is_found_where_it_is() -> None:
    alone = replace(SHOT, lamp_mm=(40.0, -60.0, 480.0))
    true = photograph([], alone).hotspot
    hotspot, others = lights_in(SECOND)
    assert len(others) == 1
    # A fifth of the main hotspot's radius: the weaker light sits on the other's halo, which tilts it.
    assert np.hypot(others[0].row - true.row, others[0].column - true.column) < 0.2 * hotspot.radius_px
