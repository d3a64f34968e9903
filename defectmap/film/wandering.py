"""Frames of few marks, laid by the way that one hand can have gone.

One such frame meets the others about as well in several places, and often best in a wrong one. But a hand
goes from frame to frame in small steps, so that of all ways through the places of all such frames one is far
likelier than any other (the best path through states by dynamic programming: Viterbi, IEEE Transactions on
Information Theory 13:260, 1967, from memory). A frame may be passed over; none is forced.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from defectmap.film import tuning
from defectmap.film.chaining import Layer
from defectmap.film.homography import Field, Homography, transform

# All moved together, in pixels of the first of them, and how sure each is there
Bundled = Callable[[dict[int, Homography]], tuple[dict[int, Homography], dict[int, float]]]


@dataclass(frozen=True, slots=True, eq=False)
class _Place:
    """One place where a frame may lie."""

    number: int
    odds: float
    to_map: Homography
    at: NDArray[np.float64]  # (2,) where the middle of the frame lies


def laid_along(layer: Layer, placed: Mapping[int, Homography], bundled: Bundled) -> dict[int, Homography]:
    """Lay frames of few lines on those that lie, by the likeliest way of the hand.

    Parameters
    ----------
    placed : mapping
        Where frames lie for sure.
    bundled : callable
        Moves all frames together.

    Returns
    -------
    dict
        With more frames, none of them sure yet.
    """
    added = dict(placed)
    left = [
        number
        for number, lines in enumerate(layer.frames)
        if number not in placed and tuning.LEAST_POINTS <= len(lines) <= tuning.FEW_POINTS
    ]
    for _ in range(tuning.WANDERING_ROUNDS if left else 0):
        places = {number: _places(layer, number, added, placed) for number in left}
        added = dict(placed)
        for gap, start, end in _gaps(left, placed):
            anchors = [None if n is None else _place(layer, n, 0.0, placed[n]) for n in (start, end)]
            assert anchors[0] is not None
            way = _way([places[n] for n in gap], anchors[0], anchors[1], step_px=layer.searches[0].step_px)
            added |= {one.number: one.to_map for one in way}
        if len(added) == len(placed):
            break
        told, _ = bundled(added)
        near = min(placed)
        back = placed[near] @ np.linalg.inv(told[near])
        added = {n: np.asarray(back @ h, np.float64) for n, h in told.items()}
    return added


def _place(layer: Layer, number: int, odds: float, to_map: Homography) -> _Place:
    return _Place(number, odds, to_map, transform(to_map, np.array([Field.of(layer.shape).middle]))[0])


def _places(
    layer: Layer, number: int, added: Mapping[int, Homography], placed: Mapping[int, Homography]
) -> list[_Place]:
    """Where a frame may lie on all others, as far as its own lines say."""
    near = min(placed, key=lambda other: abs(other - number))
    expected = added.get(number, placed[near])
    others = {n: h for n, h in added.items() if n != number}
    found = layer.places(number, others, expected)
    return [_place(layer, number, odds, h) for odds, h in found if odds > tuning.TENTATIVE_ODDS]


def _gaps(left: Sequence[int], placed: Mapping[int, Homography]) -> list[tuple[list[int], int, int | None]]:
    """Frames that lie nowhere, in the order of going away from one that does, and the next that does."""
    first, last = min(placed), max(placed)
    gaps: list[tuple[list[int], int, int | None]] = [
        ([n for n in reversed(left) if n < first], first, None),
        ([n for n in left if n > last], last, None),
    ]
    sure = sorted(placed)
    gaps += [([n for n in left if a < n < b], a, b) for a, b in pairwise(sure)]
    return [gap for gap in gaps if gap[0]]


def _way(steps: list[list[_Place]], start: _Place, end: _Place | None, *, step_px: float) -> list[_Place]:
    """The likeliest way from one sure place to the next, through at most one place of each frame."""

    def far(one: _Place, other: _Place) -> float:
        away = one.at - other.at
        return float(away @ away) / (2 * step_px**2 * abs(one.number - other.number))

    states: list[tuple[float, _Place, int]] = [(0.0, start, -1)]  # likelihood, place, state before
    for places in steps:
        known = len(states)
        for place in places:
            best = max(range(known), key=lambda k: states[k][0] - far(place, states[k][1]))
            score = place.odds + states[best][0] - far(place, states[best][1])
            states.append((score, place, best))
    ends = [score - (far(place, end) if end is not None else 0.0) for score, place, _ in states]
    state, way = int(np.argmax(ends)), []
    while state > 0:
        way.append(states[state][1])
        state = states[state][2]
    return way
