"""The same millimetres, the same size, the same light."""

import dataclasses
from dataclasses import replace

import numpy as np
import pytest

from defectmap.comparison.compare import compare_shots
from defectmap.comparison.outcome import Comparison
from defectmap.pictures.crops import crop_pair, side_by_side, worst_mark
from tests.comparison import made, phantoms


@pytest.fixture(scope="module")
def compared() -> Comparison:
    return compare_shots([phantoms.before()], [phantoms.after()])


def test_same_size_and_side_by_side(compared: Comparison) -> None:
    pair = crop_pair(phantoms.before().photo, phantoms.after().photo, compared.spots[0], side_px=300)
    assert pair.before.shape == pair.after.shape == (300, 300, 3)
    assert side_by_side(pair, gap_px=8).shape == (300, 608, 3)


def test_same_piece_of_panel(compared: Comparison) -> None:
    # the marks that stay lie in the same place: detail agrees as it lies, and not when it is shifted
    spot = compared.spots[0]
    pair = crop_pair(phantoms.before().photo, phantoms.after().photo, spot, side_px=400)
    light = [picture[:340].astype(float).mean(axis=2) for picture in (pair.before, pair.after)]
    fine = [one - _smooth(one) for one in light]
    laid = float((fine[0] * fine[1]).sum())
    shifted = [float((fine[0] * np.roll(fine[1], step, axis=1)).sum()) for step in (-12, 12)]
    assert laid > 3 * max(*shifted, 1.0)


def _smooth(light: np.ndarray) -> np.ndarray:
    from scipy.ndimage import uniform_filter

    return np.asarray(uniform_filter(light, 9))


def test_one_exposure_for_both(compared: Comparison) -> None:
    # the after photograph with half its light comes out darker: it is not stretched to match
    after = phantoms.after().photo
    dim = replace(after, rgb=(after.rgb * 0.7).astype(np.uint8))
    spot = compared.spots[0]
    pair = crop_pair(phantoms.before().photo, dim, spot, side_px=200)
    plain = crop_pair(phantoms.before().photo, after, spot, side_px=200)
    assert pair.after.mean() < 0.9 * plain.after.mean()
    pose = replace(spot.alignment, turn_deg=0.0, down_mm=0.0, right_mm=0.0)
    itself = replace(spot, after=spot.before, alignment=pose)
    twice = crop_pair(after, after, itself, side_px=200)
    assert np.array_equal(twice.before, twice.after)


def test_centre_on_the_worst_scratch(compared: Comparison) -> None:
    spot = compared.spots[0]
    about = crop_pair(
        phantoms.before().photo, phantoms.after().photo, spot, centre="worst scratch", side_px=200
    )
    hotspot = crop_pair(phantoms.before().photo, phantoms.after().photo, spot, side_px=200)
    assert about.side_mm < hotspot.side_mm
    assert not np.array_equal(about.before, hotspot.before)


def test_worst_is_the_longest_scratch() -> None:
    short = np.array([[0.0, 0.0], [0.0, 50.0]])
    marks = (made.mark(short * 3), made.mark(short, kind="scratch"), made.mark(short * 2, kind="scratch"))
    assert worst_mark(marks) is marks[2]
    assert worst_mark(marks[:1]) is marks[0]
    assert worst_mark(()) is None


def test_scale_bar_has_the_right_length(compared: Comparison) -> None:
    spot = compared.spots[0]
    pair = crop_pair(phantoms.before().photo, phantoms.after().photo, spot, side_px=400)
    # the bar is white, in the lower left corner: a round length near a fifth of the side
    rows = (pair.before[-60:] == 255).all(axis=2)
    longest = max(int(row[:200].sum()) for row in rows)
    assert longest in [pytest.approx(400 / pair.side_mm * mm, abs=2) for mm in (2, 5, 10)]
    assert 0.1 < longest / 400 < 0.3


def test_before_is_on_the_left(compared: Comparison) -> None:
    pair = crop_pair(phantoms.before().photo, phantoms.after().photo, compared.spots[0], side_px=300)
    both = side_by_side(pair, gap_px=8)
    assert not np.array_equal(pair.before, pair.after)
    assert np.array_equal(both[:, :300], pair.before)
    assert np.array_equal(both[:, -300:], pair.after)


def test_each_side_is_cut_out_of_its_own_photograph(compared: Comparison) -> None:
    """A photograph that is all red stays red on its side."""
    sides = [phantoms.before().photo, phantoms.after().photo]
    for at, name in enumerate(("before", "after")):
        painted = list(sides)
        red = np.zeros_like(sides[at].rgb)
        red[..., 0] = 200
        painted[at] = dataclasses.replace(sides[at], rgb=red)
        pair = crop_pair(painted[0], painted[1], compared.spots[0], side_px=300)
        assert (getattr(pair, name)[:250, :, 1] == 0).mean() > 0.9
        other = pair.after if name == "before" else pair.before
        assert (other[:250, :, 1] == 0).mean() < 0.5


@pytest.mark.parametrize("kept", [0.55, 0.75])
def test_no_strip_is_black_where_the_after_photograph_ends(compared: Comparison, kept: float) -> None:
    """The after photograph ends beside the hotspot: the piece moves to where both have panel."""
    before, after = phantoms.before().photo, phantoms.after().photo
    (spot,) = compared.spots
    wide = round(kept * after.rgb.shape[1])
    noise = np.random.default_rng(5).integers(90, 150, after.rgb.shape).astype(np.uint8)
    whole = crop_pair(before, after, spot, side_px=200)
    pair = crop_pair(
        before, dataclasses.replace(after, rgb=np.ascontiguousarray(noise[:, :wide])), spot, side_px=200
    )
    rows = pair.after[:150].astype(int)
    assert rows.min() > 0  # no strip of black ...
    for strip in (rows[:, :8], rows[:, -8:]):
        assert (np.diff(strip, axis=1) != 0).mean() > 0.5  # ... and none where the last column is drawn on
    assert pair.side_mm <= whole.side_mm
    assert pair.side_mm > 0.4 * whole.side_mm


def test_a_piece_that_both_hold_is_left_where_it_is(compared: Comparison) -> None:
    spot = compared.spots[0]
    radius_mm = spot.before.hotspot.radius_px / spot.before.scale.px_per_mm
    before, after = phantoms.before().photo, phantoms.after().photo
    assert crop_pair(before, after, spot, centre="worst scratch").side_mm == pytest.approx(5 * radius_mm)
