"""Close the chain: all frames are moved together until every line rests on all others of its groove.

Laid one after another, frames drift; here each frame is held to every other that shows the same line, those
long before and after it included (a bundle adjustment in the sense of Triggs et al., Vision Algorithms 2000,
with lines in place of points). The same equations say how sure each place is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from defectmap.film import tuning
from defectmap.film.homography import FREEDOMS, Field, Homography, changed, freedoms, freedoms_of, grid
from defectmap.film.lines import OrientedPoints

_PINNED = 1e12  # weight that holds the first frame still, beside which all others are small


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bundle:
    """Frames laid on the map, and how sure that is."""

    to_map: list[Homography]
    sure_px: list[
        float
    ]  # one standard deviation of a point's place on the first frame, median over the frame
    held_px: list[float]  # the same, on the frame that the others hold best
    fit: list[float]  # share of a frame's points that lie on a line of another frame
    aside_px: float  # median distance between two frames' images of one line


def bundle(
    frames: Sequence[OrientedPoints],
    first: Sequence[Homography],
    *,
    shape: tuple[int, int],
    spread: Sequence[float],
    times: Sequence[int] | None = None,
) -> Bundle:
    """Move all frames but the first, which is the map, until their lines meet best.

    Parameters
    ----------
    frames : sequence of OrientedPoints
        In their own pixels.
    first : sequence of (3, 3) float64 ndarray
        From `chaining.chain`; the first stays as it is.
    shape : (int, int)
        Of a frame.
    spread : sequence of 8 float
        See `tuning.HAND_SPREAD`: what a hand does is known better than what lines at one side of a frame
        say about the other side.
    times : sequence of int, optional
        When each frame was taken, in frames of the film: one hand holds the camera, so that a frame lies near
        the one before; how near, the frames themselves tell. None where each was placed anew.
    """
    field, to_map = Field.of(shape), list(first)
    thin = sum(len(lines) for lines in frames) // tuning.BUNDLE_POINTS + 1
    thinned = [lines.every(thin) for lines in frames]
    precision = np.diag(np.tile(1 / np.square(spread), len(frames)))
    if times is not None:
        precision += _held_by_hand(np.array([freedoms_of(h, field) for h in to_map]), np.asarray(times))
    for reach in tuning.BUNDLE_REACHES_PX:
        system = _system(thinned, to_map, field, (reach, tuning.CORRELATED_POINTS / thin))
        normal = system.normal + precision
        known = np.concatenate([freedoms_of(h, field) for h in to_map])
        right = system.right - precision @ known
        normal[:FREEDOMS], normal[:, :FREEDOMS], right[:FREEDOMS] = 0.0, 0.0, 0.0
        normal[:FREEDOMS, :FREEDOMS] = np.eye(FREEDOMS) * _PINNED
        change = np.linalg.solve(normal, right).reshape(-1, FREEDOMS)
        to_map = [changed(h, c, field) for h, c in zip(to_map, change, strict=True)]
        if reach == tuning.BUNDLE_REACHES_PX[-1] and np.abs(change).max() * field.unit_px < tuning.STILL_PX:
            break
    covariance = np.asarray(np.linalg.inv(normal))
    return Bundle(
        to_map=to_map,
        sure_px=_sureness(covariance, 0, shape),
        held_px=_sureness(covariance, _best_held(normal), shape),
        fit=system.fit,
        aside_px=system.aside_px,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _System:
    normal: NDArray[np.float64]  # (8 F, 8 F)
    right: NDArray[np.float64]  # (8 F,)
    fit: list[float]
    aside_px: float


def _system(
    frames: Sequence[OrientedPoints], to_map: Sequence[Homography], field: Field, how: tuple[float, float]
) -> _System:
    """Normal equations of all matches between frames, within a reach, so many points being one."""
    reach, correlated = how
    lines = OrientedPoints.together([f.moved(h) for f, h in zip(frames, to_map, strict=True)])
    owner = np.repeat(np.arange(len(frames)), [len(f) for f in frames])
    one, two = _matches(lines, owner, tuning.BUNDLE_FAR_REACHES * reach)
    aside = ((lines.at[two] - lines.at[one]) * lines.across[two]).sum(1)
    close = np.abs(aside) < reach
    one, two, aside = one[close], two[close], aside[close]
    weight = (1 - (aside / reach) ** 2) ** 2
    shared = np.bincount(one, weights=weight, minlength=len(lines))
    met = np.bincount(owner, weights=shared > 0.5, minlength=len(frames))
    weight /= np.maximum(shared[one], 1.0) * correlated * tuning.LINE_SPREAD_PX**2
    across = lines.across[two]
    moves = np.hstack([freedoms(lines.at[one], across, field), -freedoms(lines.at[two], across, field)])
    normal, right = _summed(moves, weight, aside, (owner[one], owner[two]), len(frames))
    counts = np.maximum(np.bincount(owner, minlength=len(frames)), 1)
    return _System(
        normal,
        right,
        (met / counts).tolist(),
        float(np.median(np.abs(aside))) if len(aside) else float("inf"),
    )


def _summed(
    moves: NDArray[np.float64],
    weight: NDArray[np.float64],
    aside: NDArray[np.float64],
    owners: tuple[NDArray[np.intp], NDArray[np.intp]],
    frames: int,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Normal equations from each match's freedoms in its two frames, a pair of frames after the other."""
    key = owners[0] * frames + owners[1]
    order = np.argsort(key, kind="stable")
    moves, key = moves[order], key[order]
    weighted, right = moves * weight[order, None], np.zeros((frames, FREEDOMS))
    normal = np.zeros((frames, FREEDOMS, frames, FREEDOMS))
    starts = np.flatnonzero(np.diff(key, prepend=-1))
    for start, stop in pairwise([*starts.tolist(), len(key)]):
        a, b = divmod(int(key[start]), frames)
        block = moves[start:stop].T @ weighted[start:stop]
        normal[a, :, a] += block[:FREEDOMS, :FREEDOMS]
        normal[a, :, b] += block[:FREEDOMS, FREEDOMS:]
        normal[b, :, a] += block[FREEDOMS:, :FREEDOMS]
        normal[b, :, b] += block[FREEDOMS:, FREEDOMS:]
        pull = aside[order[start:stop]] @ weighted[start:stop]
        right[a] += pull[:FREEDOMS]
        right[b] += pull[FREEDOMS:]
    return normal.reshape(FREEDOMS * frames, -1), right.ravel()


def _matches(
    lines: OrientedPoints, owner: NDArray[np.intp], far: float
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Pairs of points of two frames that lie near each other on lines of like direction."""
    from scipy.spatial import cKDTree

    places = lines.embedded(tuning.LEVER_PX)
    away, which = cKDTree(places).query(
        places, k=tuning.BUNDLE_NEIGHBOURS, distance_upper_bound=far, workers=2
    )
    one = np.broadcast_to(np.arange(len(lines))[:, None], away.shape)[np.isfinite(away)]
    two = which[np.isfinite(away)]
    other = owner[one] != owner[two]
    return one[other], two[other]


def _held_by_hand(poses: NDArray[np.float64], times: NDArray[np.intp]) -> NDArray[np.float64]:
    """(8 F, 8 F) what is known of the steps from frame to frame: a wander, as wide as most steps show."""
    count = len(poses)
    if count < tuning.FEWEST_STEPS:
        return np.zeros((count * FREEDOMS, count * FREEDOMS))
    gaps = np.maximum(np.diff(times), 1)
    steps = np.abs(np.diff(poses, axis=0)) / np.sqrt(gaps)[:, None]
    usual = np.maximum(tuning.WIDER_STEPS * np.median(steps, axis=0), tuning.STILL_HAND_SPREAD)
    difference = np.kron(np.diff(np.eye(count), axis=0), np.eye(FREEDOMS))
    weight = 1 / np.square(np.sqrt(gaps)[:, None] * usual).ravel()
    return np.asarray((difference.T * weight) @ difference)


def _best_held(normal: NDArray[np.float64]) -> int:
    """The frame of which the lines say most."""
    shifts = normal.diagonal().reshape(-1, FREEDOMS)[1:, :2].min(axis=1, initial=np.inf)
    return int(shifts.argmax()) + 1 if len(shifts) else 0


def _sureness(covariance: NDArray[np.float64], beside: int, shape: tuple[int, int]) -> list[float]:
    """Standard deviation of the places of a grid of points against one frame, median over each frame, px."""
    field, points = Field.of(shape), grid(shape)
    ways = [freedoms(points, np.tile(way, (len(points), 1)), field) for way in ((1.0, 0), (0, 1.0))]
    parts = covariance.reshape(len(covariance) // FREEDOMS, FREEDOMS, -1, FREEDOMS).swapaxes(1, 2)
    sure = []
    for number in range(len(parts)):
        own = parts[number, number] + parts[beside, beside] - parts[number, beside] - parts[beside, number]
        variance = sum(np.einsum("ni,ij,nj->n", way, own, way) for way in ways)
        sure.append(float(np.median(np.sqrt(np.maximum(variance, 0.0)))))
    return sure
