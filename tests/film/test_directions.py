"""Which directions a sweep can show."""

from __future__ import annotations

import numpy as np

from defectmap.film import tuning
from defectmap.film.directions import LampPlace, rose

ZONE = np.ones((400, 600), bool)


def test_one_lamp_shows_grooves_across_the_way_to_it() -> None:
    found = rose([LampPlace(x=300.0, y=200.0, radius_px=40.0)], ZONE, cell_px=25.0)
    row, column = found.cells_of(np.array([[420.0, 200.0]]))
    shown = np.flatnonzero(found.covered[row[0], column[0]])
    upright = tuning.DIRECTION_BINS // 2
    assert {upright - 1, upright} <= set(shown.tolist())
    assert 0 not in shown
    assert found.share < 0.35


def test_lamps_all_round_show_every_direction() -> None:
    ring = [
        LampPlace(x=300 + 130 * np.cos(a), y=200 + 130 * np.sin(a), radius_px=60.0)
        for a in np.linspace(0, 2 * np.pi, 24, endpoint=False)
    ]
    found = rose(ring, ZONE, cell_px=25.0)
    row, column = found.cells_of(np.array([[300.0, 200.0]]))
    assert found.covered[row[0], column[0]].all()


def test_nothing_counts_outside_the_zone() -> None:
    half = ZONE.copy()
    half[:, 300:] = False
    lamp = [LampPlace(x=150.0, y=200.0, radius_px=60.0)]
    inside, whole = rose(lamp, half, cell_px=25.0).share, rose(lamp, ZONE, cell_px=25.0).share
    assert inside > 1.5 * whole
