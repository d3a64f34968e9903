"""Lay each frame on those before it, by the lines that they share; a frame that does not fit is left out."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from defectmap.film import tuning
from defectmap.film.coarse import Search, guess
from defectmap.film.homography import Field, Homography, changed, freedoms
from defectmap.film.lines import OrientedPoints

_SIMILARITY, _ALL = 4, 8  # how many of the freedoms are fitted
_STEPS = (
    (16.0, _SIMILARITY, 3),
    (10.0, _SIMILARITY, 3),
    (5.0, _SIMILARITY, 3),
    (3.0, _ALL, 4),
)  # reach px, freedoms, rounds
_FEWEST_MATCHES = 12
_STARTS = 4  # frames tried as the map, should those before fit nothing


def chain(
    frames: Sequence[OrientedPoints], *, shape: tuple[int, int], search: Search, spread: Sequence[float]
) -> dict[int, Homography]:
    """Where each frame lies on the map, whose pixels are those of the first frame that others fit on.

    Parameters
    ----------
    frames : sequence of OrientedPoints
        Lines of each frame, in its own pixels, in the order they were taken.
    shape : (int, int)
        Rows and columns of a frame.
    search : Search
        How far a frame may lie from the one before.
    spread : sequence of 8 float
        What is known beforehand of the freedoms, see `tuning.HAND_SPREAD`.

    Returns
    -------
    dict
        Frame to map, by the number of the frame; those that do not fit are missing.
    """
    best: dict[int, Homography] = {}
    for start in range(min(len(frames), _STARTS)):
        if len(best) >= (len(frames) - start) / 2:
            break
        found = _chain_from(start, frames, shape=shape, search=search, spread=spread)
        if len(found) > len(best):
            best = found
    return best


def _chain_from(
    start: int,
    frames: Sequence[OrientedPoints],
    *,
    shape: tuple[int, int],
    search: Search,
    spread: Sequence[float],
) -> dict[int, Homography]:
    if len(frames[start]) < tuning.LEAST_POINTS:
        return {}
    placed: dict[int, Homography] = {start: np.eye(3)}
    moved = {start: frames[start]}
    for number in range(start + 1, len(frames)):
        lines = frames[number]
        if len(lines) < tuning.LEAST_POINTS:
            continue
        recent = sorted(placed)[-tuning.CHAIN_FRAMES :]
        fixed = OrientedPoints.together([moved[k] for k in recent])
        first = guess(placed[recent[-1]], lines, fixed, shape=shape, search=search)
        homography, share = fit(first, lines, fixed, field=Field.of(shape), spread=spread)
        if share >= tuning.LEAST_FIT:
            placed[number], moved[number] = homography, lines.moved(homography)
    return placed


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
    for reach, free, rounds in _STEPS:
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
    if len(matched) < _FEWEST_MATCHES:
        return None
    across = fixed.across[which]
    aside = ((fixed.at[which] - here.at[matched]) * across).sum(1)
    weight = np.clip(1 - (aside / reach) ** 2, 0, None) ** 2
    moves = freedoms(here.at[matched], across, field)[:, :free]
    normal = (moves.T * weight) @ moves + np.diag(1 / np.square(spread[:free]))
    change = np.zeros(_ALL)
    change[:free] = np.linalg.solve(normal, moves.T @ (weight * aside))
    return change
