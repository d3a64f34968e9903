"""Length that stronger neighbours hide: what a line stands for, and that dense panels read right."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from defectmap.panel.finish import densities
from defectmap.panel.hidden import hidden_share, with_hidden
from defectmap.panel.measurement import Mark
from tests.measurements import straight_mark
from tests.phantom import Shot, photograph, swirls
from tests.rendered import measured

SCALE = 20.0
ZONE = np.ones((400, 400), bool)  # 20 by 20 mm


def _across(row: float, um: float) -> Mark:
    mark = straight_mark("swirl", (row, 0.0), (row, 399.0), px_per_mm=SCALE)
    return replace(mark, length_mm=20.0, equivalent_width_um=um)


def test_a_line_alone_stands_for_itself() -> None:
    (alone,) = with_hidden([_across(200, 300.0)], ZONE, scale=SCALE)
    assert alone.stands_for == 1.0


def test_the_strongest_stands_for_itself_and_a_weaker_one_for_what_the_strip_hides() -> None:
    strong, weak = with_hidden([_across(200, 300.0), _across(240, 150.0)], ZONE, scale=SCALE)
    assert strong.stands_for == 1.0
    # a strip of 0.7 mm in surroundings of 6.1 mm hides 0.115 of them; 2 %: cells of 0.1 mm
    assert weak.stands_for == pytest.approx(1 / (1 - 0.7 / 6.1), rel=0.02)


def test_distance_matters_nothing_beyond_the_surroundings() -> None:
    far = with_hidden([_across(40, 300.0), _across(360, 150.0)], ZONE, scale=SCALE)
    assert [mark.stands_for for mark in far] == [1.0, 1.0]


def test_the_density_counts_what_is_hidden_and_says_how_much_that_is() -> None:
    marks = [replace(_across(10, 300.0), stands_for=1.5), _across(200, 200.0)]
    assert densities(marks, area_cm2=4.0).all == pytest.approx((1.5 * 20 + 20) / 4)
    assert hidden_share(marks) == pytest.approx(10 / 50)
    assert hidden_share([]) == 0.0


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 399), st.floats(50, 900)), min_size=1, max_size=60))
def test_no_line_stands_for_less_than_itself_nor_for_more_than_the_bound(
    found: list[tuple[float, float]],
) -> None:
    for mark in with_hidden([_across(row, um) for row, um in found], ZONE, scale=SCALE):
        assert 1.0 <= mark.stands_for <= 2.5 + 1e-9


@pytest.mark.parametrize("density", [80.0, 250.0])
def test_a_dense_panel_reads_as_dense_as_it_is(density: float) -> None:
    seen = photograph(swirls(5, density_mm_per_cm2=density), Shot(size_px=(800, 1000), px_per_mm=12.0))
    result = measured(seen)
    inside = [
        piece.length_mm * result.zone[tuple(np.round(piece.points).astype(int).T)].mean()
        for piece in seen.standard
    ]
    true = sum(inside) / result.area_cm2
    # 6 %: single panels scatter by 3; without what is hidden the denser reads 15 % low
    assert result.density.all == pytest.approx(true, rel=0.06)
