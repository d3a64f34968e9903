"""Lay each frame on those before it, by the lines that they share; a frame that does not fit is left out."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from defectmap.film import tuning
from defectmap.film.coarse import Search, guess
from defectmap.film.homography import Field, Homography, changed, freedoms, shifted
from defectmap.film.lines import OrientedPoints

_SIMILARITY, _ALL = 4, 8  # how many of the freedoms are fitted


def chain(
    frames: Sequence[OrientedPoints],
    *,
    shape: tuple[int, int],
    searches: Sequence[Search],
    spread: Sequence[float],
) -> dict[int, Homography]:
    """Where each frame lies on the map, whose pixels are those of the first frame that others fit on.

    Parameters
    ----------
    frames : sequence of OrientedPoints
        Lines of each frame, in its own pixels, in the order they were taken.
    shape : (int, int)
        Rows and columns of a frame.
    searches : sequence of Search
        How far a frame may lie from the one before; the next is made where one finds nothing.
    spread : sequence of 8 float
        What is known beforehand of the freedoms, see `tuning.HAND_SPREAD`.

    Returns
    -------
    dict
        Frame to map, by the number of the frame; those that do not fit are missing.
    """
    layer = _Layer(frames, shape=shape, searches=searches, spread=spread)
    best: dict[int, Homography] = {}
    for start in _starts(len(frames)):
        found = layer.chained(start)
        if len(found) > len(best):
            best = found
        if len(best) >= tuning.CHAIN_ENOUGH * len(frames):
            break
    return _from_first(layer.filled(best))


def _starts(count: int) -> list[int]:
    """Frames that a chain is begun with: the first, or where that one shows little, others."""
    spread_out = [round(share * (count - 1)) for share in (0.25, 0.5, 0.75)]
    return list(dict.fromkeys([*range(min(count, tuning.CHAIN_STARTS)), *spread_out]))


def _from_first(placed: dict[int, Homography]) -> dict[int, Homography]:
    """The same, told in pixels of the first frame placed."""
    if not placed:
        return placed
    back = np.linalg.inv(placed[min(placed)])
    moved = {number: back @ homography for number, homography in sorted(placed.items())}
    return {number: homography / homography[2, 2] for number, homography in moved.items()}


class _Layer:
    """Lays one frame on others, with all that stays the same meanwhile."""

    def __init__(
        self,
        frames: Sequence[OrientedPoints],
        *,
        shape: tuple[int, int],
        searches: Sequence[Search],
        spread: Sequence[float],
    ) -> None:
        self._frames, self._shape, self._searches, self._spread = frames, shape, searches, spread

    def chained(self, start: int) -> dict[int, Homography]:
        """Lay each frame from `start` on upon those before it."""
        if not self._frames or len(self._frames[start]) < tuning.LEAST_POINTS:
            return {}
        placed: dict[int, Homography] = {start: np.eye(3)}
        for number in range(start + 1, len(self._frames)):
            self._try(number, placed)
        return placed

    def filled(self, placed: dict[int, Homography]) -> dict[int, Homography]:
        """Try frames left out once more, now that those after them are there too; nearest first."""
        if not placed:
            return placed
        left = [number for number in range(len(self._frames)) if number not in placed]
        for number in sorted(left, key=lambda n: min(abs(n - other) for other in placed)):
            self._try(number, placed)
        return placed

    def _try(self, number: int, placed: dict[int, Homography]) -> None:
        lines = self._frames[number]
        if len(lines) < tuning.LEAST_POINTS:
            return
        near = sorted(placed, key=lambda other: abs(other - number))[: tuning.CHAIN_FRAMES]
        fixed = OrientedPoints.together([self._frames[k].moved(placed[k]) for k in near])
        for search in self._searches:
            first = guess(placed[near[0]], lines, fixed, shape=self._shape, search=search)
            homography, share = fit(first, lines, fixed, field=Field.of(self._shape), spread=self._spread)
            if share >= tuning.LEAST_FIT and share >= tuning.OVER_CHANCE * chance(homography, lines, fixed):
                placed[number] = homography
                return


def chance(pose: Homography, moving: OrientedPoints, fixed: OrientedPoints) -> float:
    """Share of points that lie on a line of like direction where lines are laid wrong on purpose."""
    from scipy.spatial import cKDTree

    tree = cKDTree(fixed.embedded(tuning.LEVER_PX))
    shares = []
    for right, down in tuning.ELSEWHERE_PX:
        here = moving.moved(shifted(right, down) @ pose)
        away, which = tree.query(here.embedded(tuning.LEVER_PX), distance_upper_bound=1.5 * tuning.CLOSE_PX)
        met = np.flatnonzero(np.isfinite(away))
        aside = ((fixed.at[which[met]] - here.at[met]) * fixed.across[which[met]]).sum(1)
        shares.append(float((np.abs(aside) < tuning.CLOSE_PX).sum() / len(here)))
    return float(np.mean(shares))


def fit(
    first: Homography,
    moving: OrientedPoints,
    fixed: OrientedPoints,
    *,
    field: Field,
    spread: Sequence[float],
) -> tuple[Homography, float]:
    """Slide lines onto the nearest lines of like direction, across them only, until they rest.

    Points of a line say nothing about where along it they lie, as its lit piece moves with the lamp; lines of
    several directions together fix the place (the point-to-line form of iterated closest points: Chen and
    Medioni, Image and Vision Computing 10:145, 1992, from memory).

    Parameters
    ----------
    first : (3, 3) float64 ndarray
        A guess within about 10 px.
    moving, fixed : OrientedPoints
    field : Field
    spread : sequence of 8 float
        Expected size of each freedom, in units of the field; keeps free what the lines leave open.

    Returns
    -------
    homography : (3, 3) float64 ndarray
    share : float
        Of the points that lie on a line of the others now, 0 to 1.
    """
    from scipy.spatial import cKDTree

    tree = cKDTree(fixed.embedded(tuning.LEVER_PX))

    def nearest(lines: OrientedPoints, reach: float) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        away, which = tree.query(lines.embedded(tuning.LEVER_PX), distance_upper_bound=1.5 * reach)
        matched = np.flatnonzero(np.isfinite(away))
        return matched, np.asarray(which[matched], np.intp)

    homography = first
    for reach, free, rounds in tuning.CHAIN_STEPS:
        for _ in range(rounds):
            change = _step(moving.moved(homography), fixed, nearest, reach, (free, field, spread))
            if change is None:
                return homography, 0.0
            homography = changed(homography, change, field)
    here = moving.moved(homography)
    matched, which = nearest(here, tuning.CLOSE_PX)
    aside = ((fixed.at[which] - here.at[matched]) * fixed.across[which]).sum(1)
    return homography, float((np.abs(aside) < tuning.CLOSE_PX).sum() / max(len(here), 1))


_Nearest = Callable[[OrientedPoints, float], tuple[NDArray[np.intp], NDArray[np.intp]]]


def _step(
    here: OrientedPoints,
    fixed: OrientedPoints,
    nearest: _Nearest,
    reach: float,
    freedom: tuple[int, Field, Sequence[float]],
) -> NDArray[np.float64] | None:
    """One round: match, weigh by how far aside (Tukey's biweight), solve; None where too little matches."""
    free, field, spread = freedom
    matched, which = nearest(here, reach)
    if len(matched) < tuning.FEWEST_MATCHES:
        return None
    across = fixed.across[which]
    aside = ((fixed.at[which] - here.at[matched]) * across).sum(1)
    weight = np.clip(1 - (aside / reach) ** 2, 0, None) ** 2
    moves = freedoms(here.at[matched], across, field)[:, :free]
    normal = (moves.T * weight) @ moves + np.diag(1 / np.square(spread[:free]))
    change = np.zeros(_ALL)
    change[:free] = np.linalg.solve(normal, moves.T @ (weight * aside))
    return change
