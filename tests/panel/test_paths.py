"""Lines laid end to end: each step gives every line what it would get alone."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from defectmap.panel.paths import (
    Paths,
    ends,
    extend,
    lengths_px,
    normals,
    paint,
    polyline_length_px,
    radii_px,
    resample,
    smooth,
)
from tests.phantom import arc
from tests.rendered import line


def alone(step: Callable[..., Any], path: NDArray[np.float64], **options: float) -> NDArray[np.float64]:
    (only,) = step(Paths.of([path]), **options).lines()
    result: NDArray[np.float64] = only
    return result


# --- many at once -----------------------------------------------------------------------

wandering = st.lists(
    st.lists(st.tuples(st.floats(-2, 2), st.floats(0.3, 2)), min_size=1, max_size=40), min_size=1, max_size=6
)


@given(wandering)
@settings(max_examples=60, deadline=None)
def test_every_line_gets_what_it_would_get_alone(moves: list[list[tuple[float, float]]]) -> None:
    lines = [np.vstack([[0, 0], np.cumsum(m, axis=0)]) + 100 * i for i, m in enumerate(moves)]
    together = Paths.of(lines)
    for step, options in (
        (smooth, {}),
        (smooth, {"window_px": 5}),
        (resample, {}),
        (resample, {"step_px": 0.4}),
        (extend, {"by_px": 7}),
        (extend, {"by_px": 3, "lever_px": 4}),
    ):
        for one, path in zip(step(together, **options).lines(), lines, strict=True):
            # 1e-9: sums over all lines round differently
            np.testing.assert_allclose(one, alone(step, path, **options), rtol=0, atol=1e-9)
    np.testing.assert_allclose(lengths_px(together), [polyline_length_px(p) for p in lines], rtol=1e-9)
    singles = [radii_px(Paths.of([p]))[0] for p in lines]
    np.testing.assert_allclose(1 / radii_px(together), 1 / np.array(singles), atol=1e-9)
    np.testing.assert_allclose(
        normals(together), np.concatenate([normals(Paths.of([p])) for p in lines]), atol=1e-9
    )


def test_no_line_stays_no_line() -> None:
    none = Paths.of([])
    assert len(smooth(none)) == len(resample(none)) == len(extend(none, by_px=3)) == 0
    assert len(radii_px(none)) == len(lengths_px(none)) == len(normals(none)) == 0


def test_keeping_some_lines() -> None:
    lines = [line((0, 0), (0, n)) + n for n in (3, 5, 9)]
    kept = Paths.of(lines).keep(np.array([True, False, True])).lines()
    for one, path in zip(kept, (lines[0], lines[2]), strict=True):
        np.testing.assert_array_equal(one, path)


def test_padding_repeats_the_ends() -> None:
    paths = Paths.of([line((0, 0), (0, 2)), line((5, 5), (5, 6))])
    source, real = paths.padded(2)
    assert source.tolist() == [0, 0, 0, 1, 2, 2, 2, 3, 3, 3, 4, 4, 4]
    assert source[real].tolist() == [0, 1, 2, 3, 4]


def test_ends_point_outwards() -> None:
    place, outward = ends(Paths.of([line((10, 10), (10, 40)), line((0, 0), (30, 0))]), lever_px=5)
    np.testing.assert_allclose(place, [[10, 10], [10, 40], [0, 0], [30, 0]])
    np.testing.assert_allclose(outward, [[0, -1], [0, 1], [-1, 0], [1, 0]], atol=1e-12)


# --- bend -------------------------------------------------------------------------------


@pytest.mark.parametrize("radius", [50.0, 200.0, 1000.0])
def test_an_arc_bends_on_its_radius(radius: float) -> None:
    path = arc((0.0, 0.0), radius_px=radius, start_deg=20, sweep_deg=np.rad2deg(60 / radius), step_px=1.0)
    # 4 %: a parabola for the circle, and an arc of up to 70 degrees is longer than its chord
    assert radii_px(Paths.of([path])) == pytest.approx(radius, rel=0.04)


def test_a_straight_line_does_not_bend() -> None:
    assert radii_px(Paths.of([line((3, 4), (60, 90))]))[0] > 1e6
    assert np.isinf(radii_px(Paths.of([line((3, 4), (6, 4))]))[0])  # too short to say


def test_painting_covers_the_line() -> None:
    mask = np.zeros((60, 60), np.uint8)
    path = arc((30.0, 30.0), radius_px=20.0, start_deg=0.0, sweep_deg=200.0, step_px=1.0)
    paint(mask, path, width_px=3)
    places = np.round(path).astype(int)
    assert mask[places[:, 0], places[:, 1]].all()
    away = np.hypot(*(np.argwhere(mask)[:, None] - path[None]).transpose(2, 0, 1)).min(1)
    # 3 px: half of what OpenCV draws for a width of 3, which is up to 5, and rounding to a pixel
    assert away.max() < 3.0


# --- smoothing and spacing --------------------------------------------------------------

steps = st.integers(-1, 1)


@given(st.lists(st.tuples(steps, st.just(1)), min_size=2, max_size=60), st.sampled_from([3, 5, 9, 15]))
@settings(max_examples=60, deadline=None)
def test_smoothing_keeps_the_ends_and_never_lengthens(moves: list[tuple[int, int]], window: int) -> None:
    path = np.vstack([[0, 0], np.cumsum(moves, axis=0)]).astype(float)
    after = alone(smooth, path, window_px=window)
    assert after.shape == path.shape
    np.testing.assert_allclose(after[[0, -1]], path[[0, -1]], atol=1e-9)
    # Averages of vectors are no longer than the vectors; rounding aside.
    assert polyline_length_px(after) <= polyline_length_px(path) + 1e-9


def test_smoothing_leaves_a_straight_line_alone() -> None:
    path = line((3.0, 4.0), (40.0, 90.0))
    np.testing.assert_allclose(alone(smooth, path), path, atol=1e-9)


@given(
    st.lists(st.tuples(st.floats(-50, 50), st.floats(-50, 50)), min_size=2, max_size=20), st.floats(0.3, 3.0)
)
@settings(max_examples=60, deadline=None)
def test_even_spacing_keeps_ends_and_never_lengthens(points: list[tuple[float, float]], step: float) -> None:
    path = np.array(points)
    after = alone(resample, path, step_px=step)
    np.testing.assert_allclose(after[[0, -1]], path[[0, -1]], atol=1e-9)
    assert polyline_length_px(after) <= polyline_length_px(path) + 1e-6


def test_points_of_a_straight_line_are_spaced_evenly() -> None:
    after = alone(resample, np.array([[0.0, 0.0], [1.0, 0.0], [1.5, 0.0], [30.0, 0.0]]), step_px=1.0)
    np.testing.assert_allclose(np.diff(after[:, 0]), 1.0, atol=1e-9)


def test_an_arc_keeps_its_length_through_smoothing_and_spacing() -> None:
    path = arc((0, 0), radius_px=60, start_deg=0, sweep_deg=150, step_px=0.7)
    # 0.5 %: a window of 9 points flattens a bend of 60 px by 4 ** 2 / 6 / 60 = 0.05 px, so 0.1 %.
    (after,) = resample(smooth(resample(Paths.of([path])))).lines()
    assert polyline_length_px(after) == pytest.approx(60 * np.radians(150), rel=0.005)


@pytest.mark.parametrize("by_px", [1, 5, 20])
def test_extending_goes_straight_on_at_both_ends(by_px: int) -> None:
    path = line((10.0, 10.0), (40.0, 50.0))
    longer = alone(extend, path, by_px=by_px)
    assert polyline_length_px(longer) == pytest.approx(polyline_length_px(path) + 2 * by_px)
    np.testing.assert_allclose(longer[by_px:-by_px], path)
    heading = (path[-1] - path[0]) / np.hypot(*(path[-1] - path[0]))
    np.testing.assert_allclose(longer[-1], path[-1] + by_px * heading, atol=1e-6)


def test_length_of_a_known_polyline() -> None:
    assert polyline_length_px(np.array([[0.0, 0.0], [3.0, 4.0], [3.0, 10.0]])) == 11.0
    assert polyline_length_px(np.array([[7.0, 7.0]])) == 0.0
