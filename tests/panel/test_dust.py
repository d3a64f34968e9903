"""Dust and water spots: counted apart, never as marks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from defectmap import measure
from defectmap.panel.dust import fit_circle, water_spots
from defectmap.panel.measurement import SpotDefect
from tests.phantom import Panel, Shot, arc, photograph
from tests.rendered import file_of

SHOT = Shot(size_px=(1200, 1600), px_per_mm=20.0)


def test_a_circle_is_fitted_exactly() -> None:
    centre, radius = fit_circle(arc((120.0, 80.0), radius_px=33.0, start_deg=20, sweep_deg=100))
    np.testing.assert_allclose([*centre, radius], [120.0, 80.0, 33.0], atol=1e-6)


def test_arcs_of_one_ring_are_one_water_spot() -> None:
    ring = [arc((100.0, 200.0), radius_px=40, start_deg=s, sweep_deg=60) for s in (0, 120, 240)]
    other = [arc((300.0, 200.0), radius_px=20, start_deg=s, sweep_deg=170) for s in (0, 180)]
    found = water_spots(ring + other, scale=20.0, px_per_mm=20.0)
    assert sorted(round(s.diameter_mm, 2) for s in found) == [2.0, 4.0]


def test_a_short_arc_alone_is_no_ring() -> None:
    quarter = arc((0.0, 0.0), radius_px=40, start_deg=0, sweep_deg=90)
    assert water_spots([quarter], scale=20.0, px_per_mm=20.0) == []


def near(
    found: list[SpotDefect] | tuple[SpotDefect, ...], true: list[SpotDefect], reach_px: float
) -> list[SpotDefect]:
    return [t for t in true if any(np.hypot(f.row - t.row, f.column - t.column) < reach_px for f in found)]


def test_water_spots_on_clean_paint_are_counted_and_are_no_marks() -> None:
    shown = photograph([], SHOT, panel=Panel(water_spots=60))
    result = measure(file_of(shown.rgb), px_per_mm=20.0)
    assert result.density.all <= 0.2  # what a clean panel may show
    rings = [s for s in result.spots if s.kind == "water spot"]
    true = [s for s in shown.spots if s.kind == "water spot" and result.zone[round(s.row), round(s.column)]]
    assert len(true) >= 5
    # Half: faint rings far from the lamp show less than a third of their circle.
    assert len(near(rings, true, 20.0)) >= len(true) / 2
    assert len(near(shown.spots, rings, 20.0)) == len(rings)  # and none is invented


def test_dust_is_counted_where_it_lies_and_does_not_count_against_the_finish() -> None:
    shown = photograph([], replace(SHOT, dust=30))
    result = measure(file_of(shown.rgb), px_per_mm=20.0)
    assert result.density.all == 0.0
    assert result.score == 100.0
    specks = [s for s in result.spots if s.kind == "dust"]
    assert specks
    # Nine in ten found specks are specks: what else is as small and as bright is a ripple beside the lamp.
    assert len(near(shown.spots, specks, 8.0)) >= 0.9 * len(specks)


# A ripple may pass for a speck: twice on 27 cm² of heavy orange peel, on the heaviest a few times.
@pytest.mark.parametrize(("peel_rad", "most"), [(0.0, 0), (0.0012, 1), (0.003, 2), (0.004, 5)])
def test_clean_paint_has_no_spots(peel_rad: float, most: int) -> None:
    result = measure(file_of(photograph([], SHOT, panel=Panel(orange_peel_rad=peel_rad)).rgb), px_per_mm=20.0)
    assert len(result.spots) <= most
