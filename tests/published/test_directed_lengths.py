"""Length density where each direction is seen over an area of its own, for known roses of directions.

Reference: rose of directions and directed measurements of length density, Stoyan, Kendall and Mecke,
*Stochastic Geometry and its Applications*; oriented line systems in Underwood, *Quantitative Stereology*
(both from memory): L_A is the integral of the rose, direction by direction, isotropic or not.
"""

from __future__ import annotations

import numpy as np

from defectmap.film import tuning
from defectmap.film.change import density, lengths_in
from defectmap.film.common_ground import common_of
from defectmap.film.directions import direction_bin
from tests.film.fields import SHAPE, sampled, straight_lines
from tests.film.measured import PX_PER_MM, measured


def test_lines_of_a_known_rose_seen_through_windows_that_depend_on_direction() -> None:
    """Rose p(θ) = (1 + cos 2θ)/π; windows shrink from 40 cm² for the first to 10 cm²."""
    rng = np.random.default_rng(8)
    turn = rng.uniform(0, np.pi, 60_000)
    turn = turn[rng.uniform(0, 2, len(turn)) < 1 + np.cos(2 * turn)][:20_000]
    width_mm, height_mm, length_mm = 80.0, 50.0, 0.16
    places = rng.uniform((0, 0), (width_mm, height_mm), (len(turn), 2))
    true = len(turn) * length_mm / (width_mm * height_mm / 100)
    bins = direction_bin(np.column_stack([np.cos(turn), np.sin(turn)]))
    share = np.linspace(1.0, 0.25, tuning.DIRECTION_BINS)
    seen = places[:, 0] < width_mm * share[bins]
    lengths = np.bincount(bins[seen], minlength=tuning.DIRECTION_BINS) * length_mm
    areas = np.asarray(width_mm * height_mm / 100 * share, np.float64)
    found = density(np.asarray(lengths, np.float64), areas)
    assert abs(found / true - 1) < 0.03  # 20,000 lines in 18 bins: 1 % of scatter
    assert lengths.sum() / (width_mm * height_mm / 100) < 0.75 * true  # what areas left out would give


def test_films_of_an_anisotropic_field_give_its_density() -> None:
    """A film shows each direction in places of its own; the field's lines all run within 25 degrees of 20."""
    field = straight_lines(3, 400, mean_deg=20.0, spread_deg=25.0)
    points = np.concatenate([sampled(ends) for ends in field])
    inside = np.all((points >= 0) & (points < SHAPE[::-1]), axis=1)
    area_cm2 = SHAPE[0] * SHAPE[1] / PX_PER_MM**2 / 100
    true = inside.sum() / PX_PER_MM / area_cm2
    film, again = measured(field), measured(field, phase=2.0, name="again")
    common = common_of(film, again, np.eye(3))
    found = lengths_in(film, common, np.eye(3)).by_direction
    assert abs(density(found, common.area_cm2) / true - 1) < 0.08
    assert found.sum() / area_cm2 < 0.9 * true
