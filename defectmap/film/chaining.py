"""Lay each frame on those before it, by the lines that they share; a frame that does not fit is left out."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from defectmap.film import tuning
from defectmap.film.coarse import Search, guesses
from defectmap.film.confirming import odds
from defectmap.film.homography import FREEDOMS, Field, Homography, changed, freedoms, shifted, transform
from defectmap.film.lines import OrientedPoints


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chain:
    """Where frames lie on the map, whose pixels are those of the first of them."""

    to_map: dict[int, Homography]  # by the number of the frame; those that do not fit are missing
    doubtful: set[int]  # frames laid at the likeliest of several places, for want of lines


def told_from_first(placed: dict[int, Homography]) -> dict[int, Homography]:
    """The same places, in pixels of the first frame placed."""
    if not placed:
        return placed
    numbers = sorted(placed)
    return dict(zip(numbers, told_in(placed[numbers[0]], [placed[k] for k in numbers]), strict=True))


def told_in(frame: Homography, placed: Sequence[Homography]) -> list[Homography]:
    """The same places, in pixels of a frame that lies on their map."""
    moved = [np.linalg.inv(frame) @ homography for homography in placed]
    return [np.asarray(homography / homography[2, 2], np.float64) for homography in moved]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Layer:
    """Lays one frame on others, with all that stays the same meanwhile."""

    frames: Sequence[OrientedPoints]  # lines of each frame, in its own pixels, in the order they were taken
    shape: tuple[int, int]  # rows and columns of a frame
    searches: Sequence[
        Search
    ]  # how far a frame may lie from the one before; the next where one finds nothing
    spread: Sequence[float]  # what is known beforehand of the eight freedoms, see `tuning.HAND_SPREAD`

    def chain(self) -> Chain:
        """Lay each frame on those before it, beginning where most others fit on."""
        best = Chain(to_map={}, doubtful=set())
        for start in self._starts():
            found = self._chained(start)
            if _clear_count(found) > _clear_count(best):
                best = found
            if _clear_count(best) >= tuning.CHAIN_ENOUGH * len(self.frames):
                break
        left = [number for number in range(len(self.frames)) if best.to_map and number not in best.to_map]
        for number in sorted(left, key=lambda n: min(abs(n - other) for other in best.to_map)):
            self._add(number, best)
        return Chain(to_map=told_from_first(best.to_map), doubtful=best.doubtful)

    def _starts(self) -> list[int]:
        """Frames that a chain is begun with: the first, or where that one shows little, others."""
        count = len(self.frames)
        spread_out = [round(share * (count - 1)) for share in tuning.CHAIN_SPREAD]
        return list(dict.fromkeys([*range(min(count, tuning.CHAIN_STARTS)), *spread_out]))

    def _chained(self, start: int) -> Chain:
        found = Chain(to_map={start: np.eye(3)}, doubtful=set())
        if not self.frames or len(self.frames[start]) < tuning.LEAST_POINTS:
            return Chain(to_map={}, doubtful=set())
        for number in range(start + 1, len(self.frames)):
            self._add(number, found)
        return found

    def _add(self, number: int, chain: Chain) -> None:
        place, clear = self.place(number, chain.to_map, most=tuning.CHAIN_FRAMES)
        if place is not None:
            chain.to_map[number] = place
            if not clear:
                chain.doubtful.add(number)

    def place(
        self, number: int, placed: Mapping[int, Homography], *, most: int
    ) -> tuple[Homography | None, bool]:
        """Where a frame lies on others, and whether the lines say so clearly.

        Where they do not tell one place from another, the likeliest is given: one hand holds the camera.

        Parameters
        ----------
        placed : mapping
            Where others lie.
        most : int
            How many of them are used, those taken nearest in time.
        """
        lines = self.frames[number]
        near = sorted((k for k in placed if k != number), key=lambda other: abs(other - number))[:most]
        if len(lines) < tuning.LEAST_POINTS or not near:
            return None, False
        fixed = OrientedPoints.together([self.frames[k].moved(placed[k]) for k in near])
        since = abs(near[0] - number) ** 0.5
        best: tuple[float, Homography] | None = None
        for search in self.searches:
            found = self._laid(placed[near[0]], lines, fixed, search, search.step_px * since)
            if found and found[0][0] >= tuning.LEAST_ODDS and self._clear(found):
                return found[0][1], True
            best = max([*found[:1], *([best] if best else [])], key=lambda one: one[0], default=None)
        if best and best[0] > tuning.TENTATIVE_ODDS:
            return best[1], False
        return None, False

    def places(
        self, number: int, others: Mapping[int, Homography], expected: Homography
    ) -> list[tuple[float, Homography]]:
        """All places where a frame's lines meet those of others, near or far from where it is expected."""
        fixed = OrientedPoints.together([self.frames[k].moved(h) for k, h in others.items()])
        return [
            found
            for search in self.searches
            for found in self._laid(expected, self.frames[number], fixed, search, math.inf)
        ]

    def _laid(
        self,
        expected: Homography,
        lines: OrientedPoints,
        fixed: OrientedPoints,
        search: Search,
        step_px: float,
    ) -> list[tuple[float, Homography]]:
        """Places where a frame's lines meet the others', with their odds, the best first."""
        field, middle = Field.of(self.shape), np.array([Field.of(self.shape).middle])
        found: list[tuple[float, Homography]] = []
        some = lines.every(len(lines) // tuning.LAY_POINTS + 1)
        for first in guesses(expected, lines, fixed, shape=self.shape, search=search):
            homography, share = fit(first, some, fixed, field=field, spread=self.spread)
            step = transform(homography, middle) - transform(expected, middle)
            far = float(np.hypot(*step[0])) / step_px
            met = odds(
                np.array([share]),
                np.array([chance(homography, some, fixed)]),
                np.array([len(lines) / tuning.POINTS_OF_A_LINE]),
            )
            found.append((float(met[0]) - far**2 / 2, homography))
        return sorted(found, key=lambda one: -one[0])

    def _clear(self, found: list[tuple[float, Homography]]) -> bool:
        """Whether the best place is far likelier than any other that is not the same."""
        corners = np.array([[0.0, 0], [self.shape[1] - 1, self.shape[0] - 1]])
        best, home = found[0]
        for rival, other in found[1:]:
            apart = np.hypot(*(transform(other, corners) - transform(home, corners)).T)
            if best - rival < tuning.CLEAR_ODDS and apart.max() > tuning.WORST_FRAME_PX:
                return False
        return True


def _clear_count(chain: Chain) -> int:
    return len(chain.to_map) - len(chain.doubtful)


def chance(pose: Homography, moving: OrientedPoints, fixed: OrientedPoints) -> float:
    """Share of points that lie on a line of like direction where lines are laid wrong on purpose."""
    shares = []
    for right, down in tuning.ELSEWHERE_PX:
        here = moving.moved(shifted(right, down) @ pose)
        shares.append(_share(here, fixed))
    return float(np.mean(shares))


def _nearest(
    lines: OrientedPoints, fixed: OrientedPoints, reach: float
) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.float64]]:
    """Points that have one of the others near, which one that is, and the way across its line to it."""
    away, which = fixed.tree.query(
        lines.embedded(tuning.LEVER_PX), distance_upper_bound=tuning.CHAIN_FAR_REACHES * reach
    )
    matched = np.flatnonzero(np.isfinite(away))
    which = np.asarray(which[matched], np.intp)
    return matched, which, ((fixed.at[which] - lines.at[matched]) * fixed.across[which]).sum(1)


def _share(here: OrientedPoints, fixed: OrientedPoints) -> float:
    """Of points that lie on a line of the others, 0 to 1."""
    _, _, aside = _nearest(here, fixed, tuning.CLOSE_PX)
    return float((np.abs(aside) < tuning.CLOSE_PX).sum() / max(len(here), 1))


def fit(
    first: Homography, moving: OrientedPoints, fixed: OrientedPoints, *, field: Field, spread: Sequence[float]
) -> tuple[Homography, float]:
    """Slide lines onto the nearest lines of like direction, across them only, until they rest.

    Points of a line say nothing about where along it they lie, as its lit piece moves with the lamp; lines of
    several directions together fix the place (the point-to-line form of iterated closest points: Chen and
    Medioni, Image and Vision Computing 10:145, 1992, from memory).

    Parameters
    ----------
    first : (3, 3) float64 ndarray
        A guess within about 10 px.
    spread : sequence of 8 float
        Expected size of each freedom, in units of the field; keeps free what the lines leave open.

    Returns
    -------
    homography : (3, 3) float64 ndarray
    share : float
        Of the points that lie on a line of the others now, 0 to 1.
    """
    homography = first
    for reach, free, rounds in tuning.CHAIN_STEPS:
        for _ in range(rounds):
            change = _step(moving.moved(homography), fixed, reach, (free, field, spread))
            if change is None:
                return homography, 0.0
            homography = changed(homography, change, field)
    return homography, _share(moving.moved(homography), fixed)


def _step(
    here: OrientedPoints, fixed: OrientedPoints, reach: float, freedom: tuple[int, Field, Sequence[float]]
) -> NDArray[np.float64] | None:
    """One round: match, weigh by how far aside (Tukey's biweight), solve; None where too little matches."""
    free, field, spread = freedom
    matched, which, aside = _nearest(here, fixed, reach)
    if len(matched) < tuning.FEWEST_MATCHES:
        return None
    weight = np.clip(1 - (aside / reach) ** 2, 0, None) ** 2
    moves = freedoms(here.at[matched], fixed.across[which], field)[:, :free]
    normal = (moves.T * weight) @ moves + np.diag(1 / np.square(spread[:free]))
    change = np.zeros(FREEDOMS)
    change[:free] = np.linalg.solve(normal, moves.T @ (weight * aside))
    return change
