"""Registration against known homographies, as the literature on registration is judged: by the distance that
corner and inner points lie from where they belong (Hartley and Zisserman, *Multiple View Geometry*, transfer
error; from memory)."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest

from defectmap.errors import UnmeasurableFilm
from defectmap.film import tuning
from defectmap.film.bundling import bundle
from defectmap.film.chaining import Chain, Layer, told_from_first
from defectmap.film.coarse import Search
from defectmap.film.confirming import confirmed
from defectmap.film.growing import first_frame
from defectmap.film.homography import grid, shifted, transform
from defectmap.film.lines import OrientedPoints, oriented
from defectmap.film.registering import _held, _refuse_few, _told
from defectmap.film.wandering import laid_along
from tests.film.fields import SHAPE, hand, lit, seen_by, straight_lines

SEARCH = Search(reach_px=64, turns_deg=tuning.FILM_TURNS_DEG, step_px=20)


def layer(frames: list[OrientedPoints]) -> Layer:
    return Layer(frames=frames, shape=SHAPE, searches=(SEARCH,), spread=tuning.HAND_SPREAD)


def chained(frames: list[OrientedPoints]) -> Chain:
    return layer(frames).chain()


def frames_of(
    count: int, *, seed: int = 1, stranger: int | None = None
) -> tuple[list[OrientedPoints], list[np.ndarray]]:
    """Frames of a sweep from left to right and the homographies behind them; one may show another field."""
    field, other = straight_lines(seed, 260), straight_lines(seed + 1, 260)
    true = [np.eye(3)] + [hand(k) for k in range(1, count)]
    frames = []
    for k, homography in enumerate(true):
        lamp = (150 + 950 * k / count, 360 + 200 * np.sin(0.9 * k))
        marks = seen_by(homography, lit(other if k == stranger else field, lamp), seed=k)
        frames.append(oriented([mark.points for mark in marks]))
    return frames, true


def transfer_errors_px(found: list[np.ndarray], true: list[np.ndarray]) -> list[float]:
    points = grid(SHAPE)
    apart = [transform(a, points) - transform(b, points) for a, b in zip(found, true, strict=True)]
    return [float(np.median(np.hypot(*d.T))) for d in apart]


def test_frames_that_share_no_line_stay_and_are_said_not_to_fit() -> None:
    steps = np.linspace(0, 1, 80)[:, None]
    frames = [oriented([[40.0, x] + steps * [50.0, 60.0]]) for x in (40.0, 1100.0)]
    found = bundle(frames, [np.eye(3)] * 2, shape=SHAPE, spread=tuning.HAND_SPREAD)
    assert found.fit == [0.0, 0.0]
    assert found.aside_px == np.inf
    assert np.allclose(found.to_map, np.eye(3))


def test_frames_lie_where_known_homographies_put_them() -> None:
    frames, true = frames_of(14)
    first = chained(frames).to_map
    assert sorted(first) == list(range(14))
    whole = bundle(frames, [first[k] for k in range(14)], shape=SHAPE, spread=tuning.HAND_SPREAD)
    errors = transfer_errors_px(whole.to_map, true)
    assert np.median(errors) < 1.0
    assert max(errors) < 2.5
    assert 0.2 * np.median(errors[1:]) < np.median(whole.sure_px[1:]) < 5 * np.median(errors[1:])


def test_a_frame_of_another_place_is_left_out() -> None:
    frames, _ = frames_of(10, stranger=5)
    used, whole = _held(layer(frames), film=True)
    assert used == [0, 1, 2, 3, 4, 6, 7, 8, 9]
    assert max(whole.held_px) < tuning.HELD_PX


def test_a_first_frame_that_only_later_ones_reach_is_placed_all_the_same() -> None:
    frames, true = frames_of(8)
    order = [0, 6, 1, 2, 3, 4, 5, 7]  # a far lamp place comes second
    placed = chained([frames[k] for k in order]).to_map
    assert sorted(placed) == list(range(8))
    assert max(transfer_errors_px([placed[n] for n in range(8)], [true[k] for k in order])) < 3


def test_without_lines_nothing_is_laid_down() -> None:
    empty = oriented([])
    assert chained([empty, empty]).to_map == {}


def test_a_film_of_two_places_keeps_the_longer_part_and_never_joins_them() -> None:
    here, _ = frames_of(9, seed=1)
    there, _ = frames_of(5, seed=30)
    assert _held(layer([*there, *here]), film=True)[0] == list(range(5, 14))
    assert _held(layer([*here, *there]), film=True)[0] == list(range(9))


def test_frames_laid_wrong_are_not_confirmed_though_some_lines_meet() -> None:
    frames, true = frames_of(14)
    assert all(confirmed(frames, true, film=True))
    beside = list(true)
    beside[6] = shifted(14, 9) @ true[6]
    assert [k for k, sure in enumerate(confirmed(frames, beside, film=True)) if not sure] == [6]
    broken = [h if k < 9 else shifted(25, -17) @ h for k, h in enumerate(true)]  # two halves, each whole
    assert confirmed(frames, broken, film=True) == [True] * 9 + [False] * 5


def test_many_lines_are_confirmed_as_few_are(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of many points only some are asked whether they meet, but all of the others are there to be met."""
    frames, true = frames_of(14)
    monkeypatch.setattr(tuning, "CONFIRM_POINTS", sum(map(len, frames)) // 12)
    assert all(confirmed(frames, true, film=True))
    broken = [h if k < 9 else shifted(25, -17) @ h for k, h in enumerate(true)]
    assert confirmed(frames, broken, film=True) == [True] * 9 + [False] * 5


def test_few_lines_are_laid_by_what_a_hand_does_or_not_at_all() -> None:
    """With 40 lines in the whole field some frames show two or three: whatever is used, is used rightly."""
    field, true = straight_lines(12, 40), [np.eye(3)] + [hand(k) for k in range(1, 24)]
    frames = []
    for k, homography in enumerate(true):
        lamp = (150 + 950 * k / 24, 360 + 200 * np.sin(0.5 * k))
        marks = seen_by(homography, lit(field, lamp), seed=k)
        frames.append(oriented([mark.points for mark in marks]))
    used, whole = _held(layer(frames), film=True)
    first = np.linalg.inv(true[used[0]]) if used else np.eye(3)
    assert max(transfer_errors_px(whole.to_map, [first @ true[k] for k in used]), default=0) < 4


def test_of_several_places_the_way_of_the_hand_decides() -> None:
    """Three frames of few lines before the body: each may lie rightly or, with better odds, far off."""
    frames, true = frames_of(14)

    class Torn(Layer):
        def places(
            self, number: int, others: Mapping[int, np.ndarray], expected: np.ndarray
        ) -> list[tuple[float, np.ndarray]]:
            wrong = shifted(*[(300, 40), (-260, 90), (20, -350), (0, 400)][number]) @ true[number]
            return [(9.0, wrong), (7.0, true[number])]

    few = [OrientedPoints(at=f.at[:100], along=f.along[:100]) for f in frames[:4]]
    torn = Torn(frames=[*few, *frames[4:]], shape=SHAPE, searches=(SEARCH,), spread=tuning.HAND_SPREAD)
    body = {k: true[k] for k in range(4, 14)}
    laid = laid_along(torn, body, lambda placed: (told_from_first(placed), dict.fromkeys(placed, 0.5)))
    assert sorted(laid) == list(range(14))
    assert max(transfer_errors_px([laid[k] for k in range(4)], true[:4])) < 1e-6


def test_the_first_frame_is_placed_by_what_little_it_shows() -> None:
    frames, true = frames_of(14)
    every = len(frames[0]) // 30
    few = OrientedPoints(at=frames[0].at[::every], along=frames[0].along[::every])
    laying = layer([few, *frames[1:]])
    body = {k: true[k] for k in range(3, 14)}
    found = first_frame(laying, body, lambda placed: _told(laying, placed))
    assert found is not None
    assert transfer_errors_px([found.place], [np.eye(3)])[0] < 2 * found.unsure_px < 8


def test_a_first_frame_without_lines_is_where_the_hand_was_and_one_of_another_place_nowhere() -> None:
    frames, true = frames_of(14)
    body = {k: true[k] for k in range(1, 14)}
    empty = layer([oriented([]), *frames[1:]])
    found = first_frame(empty, body, lambda placed: _told(empty, placed))
    assert found is not None
    np.testing.assert_allclose(found.place, true[1])
    assert found.unsure_px >= SEARCH.step_px
    other = layer([frames_of(14, seed=30)[0][0], *frames[1:]])
    assert first_frame(other, body, lambda placed: _told(other, placed)) is None


def test_a_film_of_changing_places_is_refused() -> None:
    many, few = (OrientedPoints(at=np.zeros((n, 2)), along=np.ones((n, 2))) for n in (500, 60))
    with pytest.raises(UnmeasurableFilm, match="Keep one spot in the picture"):
        _refuse_few(3, tuning.FEWEST_FRAMES_USED, [many] * 40, "door.mp4")
    with pytest.raises(UnmeasurableFilm, match="too few marks"):
        _refuse_few(1, tuning.FEWEST_FRAMES_USED, [few] * 40, "door.mp4")
