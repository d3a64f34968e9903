"""Lengths and areas by sector and ring, and densities at matched radius."""

import math

import numpy as np
import pytest

from defectmap.comparison.blocks import (
    BlockTable,
    PolarFrame,
    block_table,
    ring_edges_mm,
    ring_weights,
    weighted_density,
)
from tests.comparison import made

FRAME = PolarFrame(row=300.0, column=400.0, px_per_mm=10.0)
EDGES = np.array([5.0, 10.0, 20.0])
DISC = np.hypot(*(np.mgrid[:601, :801] - np.array([300, 400])[:, None, None])) / 10


def test_area_of_rings_is_that_of_circles() -> None:
    table = block_table((), np.ones((601, 801), np.bool_), frame=FRAME, edges_mm=EDGES)
    exact = math.pi * np.diff(EDGES**2) / 100
    assert table.area_cm2.sum(axis=0) == pytest.approx(exact, rel=0.005)  # cells of 0.2 mm at a rim of 31 mm


def test_sectors_are_alike() -> None:
    table = block_table((), np.ones((601, 801), np.bool_), frame=FRAME, edges_mm=EDGES, sectors=8)
    one = math.pi * (20**2 - 10**2) / 100 / 8
    assert table.area_cm2[:, 1] == pytest.approx(one, rel=0.02)  # a few cells along each edge


def test_length_is_shared_out_where_the_mark_lies() -> None:
    # 10 mm straight to the right, from radius 4 to 14: 1 mm inside, 5 mm in the near ring, 4 mm in the far
    # one
    across = np.column_stack([np.full(101, 300.0), 400 + np.linspace(40, 140, 101)])
    table = block_table([made.mark(across)], DISC < 30, frame=FRAME, edges_mm=EDGES)
    assert table.length_mm[0].sum(axis=0) == pytest.approx([5.0, 4.0], abs=0.1)  # one step of the line
    assert table.length_mm[1:].sum() == 0


def test_other_photograph_has_its_say() -> None:
    across = np.column_stack([np.full(101, 300.0), 400 + np.linspace(40, 140, 101)])
    table = block_table(
        [made.mark(across)],
        DISC < 30,
        frame=FRAME,
        edges_mm=EDGES,
        also=lambda points: points[:, 1] < 480,
        length_factor=2.0,
    )
    assert table.length_mm.sum() == pytest.approx(2 * 3.0, abs=0.2)
    assert table.area_cm2.sum() < math.pi * (20**2 - 5**2) / 100


def test_azimuth_counts_from_right_towards_down() -> None:
    points = np.array([[300.0, 500.0], [400.0, 400.0], [300.0, 300.0], [200.0, 400.0]])
    radius, turns = FRAME.polar(points)
    assert radius == pytest.approx([10] * 4)
    assert turns == pytest.approx([0, 0.25, 0.5, 0.75])
    turned = PolarFrame(row=300.0, column=400.0, px_per_mm=10.0, turn_deg=90.0)
    assert turned.polar(points)[1] == pytest.approx([0.25, 0.5, 0.75, 0])


def table_of(area: list[float], length: list[float]) -> BlockTable:
    by_kind = np.zeros((3, 1, len(area)))
    by_kind[0, 0] = length
    return BlockTable(area_cm2=np.array([area]), length_mm=by_kind, pieces_mm=np.array([]))


def test_matched_radius_does_not_see_where_the_frame_cuts() -> None:
    # the same paint, 20 mm/cm2 near and 5 far; the second photograph shows little of the near ring
    first, second = table_of([1, 4], [20, 20]), table_of([0.25, 4], [5, 20])
    plain = [table.length_mm.sum() / table.area_cm2.sum() for table in (first, second)]
    assert plain[0] > 1.2 * plain[1]
    weights = ring_weights(first, second)
    matched = [
        float(weighted_density(table.length_of(None).sum(0), table.area_cm2.sum(0), weights=weights))
        for table in (first, second)
    ]
    assert matched[0] == pytest.approx(matched[1])


def test_ring_without_area_lends_its_weight() -> None:
    found = weighted_density(np.array([0.0, 8.0]), np.array([0.0, 4.0]), weights=np.array([0.5, 0.5]))
    assert float(found) == pytest.approx(2.0)


def test_weights_know_nothing_of_the_marks() -> None:
    clean, full = table_of([1, 4], [0, 0]), table_of([1, 4], [20, 20])
    assert ring_weights(clean, clean) == pytest.approx(ring_weights(full, full))


def test_rings_end_where_asked() -> None:
    edges = ring_edges_mm(inner_mm=8.0, outer_mm=43.0, width_mm=4.0)
    assert (edges[0], edges[-1]) == (8.0, 43.0)
    assert np.diff(edges).max() < 4.5
    with pytest.raises(ValueError, match="rings need"):
        ring_edges_mm(inner_mm=8.0, outer_mm=8.0, width_mm=4.0)


def test_nothing_in_common() -> None:
    with pytest.raises(ValueError, match="no ring in common"):
        ring_weights(table_of([0, 0], [0, 0]), table_of([1, 1], [0, 0]))


def test_sums_are_those_of_a_histogram() -> None:
    # numpy.histogram2d is the reference for which cell a point falls into
    rng = np.random.default_rng(4)
    marks = [
        made.mark(np.array([300, 400]) + np.cumsum(rng.normal(0, 4, (80, 2)), axis=0), kind=kind)
        for kind in ("swirl", "scratch", "trail", "swirl")
    ]
    zone = np.ones((601, 801), np.bool_)
    edges = np.array([0.0, 3.0, 6.0, 9.0])
    table = block_table(marks, zone, frame=FRAME, edges_mm=edges, sectors=12)
    for number, kind in enumerate(("swirl", "scratch", "trail")):
        expected = np.zeros((12, 3))
        for one in (one for one in marks if one.kind == kind):
            steps = np.linalg.norm(np.diff(one.points, axis=0), axis=1)
            radius, turns = FRAME.polar((one.points[1:] + one.points[:-1]) / 2)
            weights = steps / steps.sum() * one.length_mm
            bins = (np.linspace(0, 1, 13), edges)
            expected += np.histogram2d(turns, radius, bins=bins, weights=weights)[0]
        assert table.length_mm[number] == pytest.approx(expected, abs=1e-9)
