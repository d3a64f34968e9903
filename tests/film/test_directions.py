"""Which directions a sweep can show, and the length density of fields that are not isotropic."""

from __future__ import annotations

import numpy as np

from defectmap.film import tuning
from defectmap.film.directions import (
    LampPlace,
    density_of_all_directions,
    direction_bin,
    rose,
)

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


def test_length_density_of_an_anisotropic_field_seen_through_windows() -> None:
    """Each direction seen over its own area gives the whole L_A, for a rose of directions that is known.

    Lines of the rose p(θ) = (1 + cos 2θ)/π are drawn; each direction is seen in a window that shrinks from
    40 cm² for lines along rows to 10 cm² for lines across. Reference: rose of directions and directed
    measurements of length density, Stoyan, Kendall and Mecke, *Stochastic Geometry and its Applications*;
    Saltykov's oriented line systems in Underwood, *Quantitative Stereology* (both from memory).
    """
    rng = np.random.default_rng(8)
    turn = rng.uniform(0, np.pi, 60_000)
    turn = turn[rng.uniform(0, 2, len(turn)) < 1 + np.cos(2 * turn)][:20_000]
    width_mm, height_mm, length_mm = 80.0, 50.0, 0.16
    places = rng.uniform((0, 0), (width_mm, height_mm), (len(turn), 2))
    density = len(turn) * length_mm / (width_mm * height_mm / 100)
    bins = direction_bin(np.column_stack([np.cos(turn), np.sin(turn)]))
    share = np.linspace(1.0, 0.25, tuning.DIRECTION_BINS)
    seen = places[:, 0] < width_mm * share[bins]
    lengths = np.bincount(bins[seen], minlength=tuning.DIRECTION_BINS) * length_mm
    areas = width_mm * height_mm / 100 * share
    assert abs(density_of_all_directions(lengths, areas) / density - 1) < 0.03
    naive = lengths.sum() / (width_mm * height_mm / 100)
    assert naive < 0.75 * density
    assert np.isnan(density_of_all_directions(lengths, np.where(np.arange(18) == 3, 0.0, areas)))
