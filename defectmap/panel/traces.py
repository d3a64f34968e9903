"""From crest points to centrelines: neighbours linked, gaps and crossings bridged by direction.

All linking is by geometry: where a line goes on is decided by where it points, never by how bright it is.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from defectmap.panel import tuning
from defectmap.panel.paths import Path, Paths, ends
from defectmap.panel.ridges import DIRECTIONS, RidgePoints

_REACH_PX = 2  # neighbours are sought in a 5 x 5 square
_NEIGHBOUR_TURN_RAD = np.deg2rad(tuning.NEIGHBOUR_TURN_DEG)
_STEPS = np.arange(DIRECTIONS)
_TURN_RAD = (np.minimum(_STEPS, DIRECTIONS - _STEPS) * (np.pi / DIRECTIONS)).astype(np.float32)


def link(
    found: RidgePoints, sure: NDArray[np.float32] | None = None, *, shape: tuple[int, int], shortest: int = 2
) -> Paths:
    """Chain crest points that follow each other along their own direction.

    Each point picks its best neighbour ahead and behind; a link needs both to agree, so chains never branch.

    Parameters
    ----------
    sure : (N,) float32 ndarray, optional
        Response of each point over the threshold it had to pass; chains of less than 1.12 on average are
        noise that just got over it, and are dropped.
    shape : (int, int)
        Of the picture they were found in.
    shortest : int
        Fewest points of a chain.

    Returns
    -------
    Paths
        Points in order along each line.
    """
    count = len(found.pixels)
    if count < 2:
        return Paths.of([])
    own = np.arange(count)
    ahead, behind = _best_neighbours(found, shape)
    here, there = [], []
    for choice in (ahead, behind):
        other = np.maximum(choice, 0)
        mutual = (choice >= 0) & ((ahead[other] == own) | (behind[other] == own))
        here.append(own[mutual])
        there.append(choice[mutual])
    order, lengths = _chains(np.concatenate(here), np.concatenate(there), count, sure, shortest)
    return Paths(found.points[order], lengths)


def _chains(
    here: NDArray[np.int64],
    there: NDArray[np.int64],
    count: int,
    sure: NDArray[np.float32] | None,
    shortest: int,
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Members in order along each chain that is long and sure enough, and how many each has.

    Parameters
    ----------
    here, there : (M,) int64 ndarray
        Points that are linked, each link named from both sides.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components, depth_first_order

    graph = coo_array((np.ones(len(here), np.int8), (here, there)), shape=(count, count))
    _, chain = connected_components(graph, directed=False)
    size = np.bincount(chain)
    good = size >= max(shortest, 2)
    if sure is not None:
        good &= np.bincount(chain, weights=sure) >= tuning.SURE_CHAIN * size
    # most chains of noise end here
    members = np.nonzero(good[chain])[0]
    if not len(members):
        return members, members
    # a walk starts at an end; a ring, which has none, is cut open anywhere
    open_ended = np.bincount(here, minlength=count)[members] == 1
    candidates = np.concatenate([members[open_ended], members[~open_ended]])
    _, first = np.unique(chain[candidates], return_index=True)
    starts = candidates[np.sort(first)]
    root = count
    wanted = good[chain[here]]
    rows = np.concatenate([here[wanted], np.full(len(starts), root)])
    columns = np.concatenate([there[wanted], starts])
    links = coo_array((np.ones(len(rows), np.int8), (rows, columns)), shape=(count + 1, count + 1)).tocsr()
    # depth first from a point tied to one end of each chain: every chain is walked whole before the next
    order = depth_first_order(links, root, directed=True, return_predecessors=False)[1:]
    changes = np.nonzero(np.diff(chain[order], prepend=-1))[0]
    return order.astype(np.int64), np.diff(changes, append=len(order))


def _best_neighbours(
    found: RidgePoints, shape: tuple[int, int]
) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """Index of the best neighbour ahead and behind each point, -1 where there is none."""
    count = len(found.pixels)
    width = shape[1] + 2 * _REACH_PX
    place = (found.pixels[:, 0] + _REACH_PX) * width + found.pixels[:, 1] + _REACH_PX
    index = np.full((shape[0] + 2 * _REACH_PX) * width, -1, np.int32)
    index[place] = np.arange(count, dtype=np.int32)
    rows, columns = np.ascontiguousarray(found.points.T, np.float32)
    direction = np.round(found.angle_rad * (DIRECTIONS / np.pi)).astype(np.int32)
    down, right = np.sin(found.angle_rad, dtype=np.float32), np.cos(found.angle_rad, dtype=np.float32)
    cost = np.full((2, count), np.inf, np.float32)
    best = np.full((2, count), -1, np.int32)
    for offset in _half_of_the_square(width):
        there = index[place + offset]
        here = np.flatnonzero(there >= 0)
        there = there[here]
        turned = (direction[there] - direction[here]) & (DIRECTIONS - 1)
        near = _TURN_RAD[turned] < _NEIGHBOUR_TURN_RAD
        here, there, turned = here[near], there[near], turned[near]
        step_row, step_column = rows[there] - rows[here], columns[there] - columns[here]
        fixed = (
            np.sqrt(step_row * step_row + step_column * step_column)
            + tuning.NEIGHBOUR_PRICES[1] * _TURN_RAD[turned]
        )
        for own, other, sign in ((here, there, 1), (there, here, -1)):  # each pair is met once
            forward = sign * (step_row * down[own] + step_column * right[own])
            aside = np.abs(step_row * right[own] - step_column * down[own])
            way = (forward < 0).astype(np.intp)
            price = fixed + tuning.NEIGHBOUR_PRICES[0] * aside
            fits = (
                (np.abs(forward) > tuning.NEIGHBOUR_AHEAD_PX)
                & (aside < tuning.NEIGHBOUR_ASIDE_PX)
                & (price < cost[way, own])
            )
            better = np.flatnonzero(fits)
            cost[way[better], own[better]] = price[better]
            best[way[better], own[better]] = other[better]
    return best[0], best[1]


def _half_of_the_square(width: int) -> list[int]:
    """Steps, in a picture laid out row by row, to one of each two neighbours that lie opposite."""
    span = range(-_REACH_PX, _REACH_PX + 1)
    return [row * width + column for row in span for column in span if (row, column) > (0, 0)]


def bridge(paths: Paths, *, gap_px: float, lever_px: int, turn_deg: float) -> Paths:
    """Join ends that point at each other across a gap: breaks in a faint line, and crossings.

    Parameters
    ----------
    gap_px : float
        Widest gap that is bridged.
    lever_px : int
        Points at each end from which its direction is fitted.
    turn_deg : float
        Largest change of direction across the gap.
    """
    if len(paths) < 2:
        return paths
    from scipy.spatial import cKDTree

    place, outward = ends(paths, lever_px=lever_px)
    pairs = cKDTree(place).query_pairs(gap_px, output_type="ndarray")
    one, two = pairs[pairs[:, 0] // 2 != pairs[:, 1] // 2].T
    step = place[two] - place[one]
    distance = np.hypot(step[:, 0], step[:, 1])
    turn = np.arccos(np.clip(-(outward[one] * outward[two]).sum(1), -1, 1))
    aside = np.maximum(_aside(step, outward[one]), _aside(step, outward[two]))
    back = tuning.BRIDGE_BACK_PX
    facing = ((step * outward[one]).sum(1) > -back) & ((step * outward[two]).sum(1) < back)
    least, slope = tuning.BRIDGE_ASIDE
    fits = np.nonzero(facing & (turn < np.deg2rad(turn_deg)) & (aside < least + slope * distance))[0]
    by_aside, by_turn = tuning.BRIDGE_PRICES
    price = distance + by_aside * aside + by_turn * turn
    order = fits[np.argsort(price[fits], kind="stable")]
    mates = _marry(one[order].tolist(), two[order].tolist(), len(paths))
    return _assemble(paths, mates)


def _aside(step: NDArray[np.float64], along: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.abs(step[:, 0] * along[:, 1] - step[:, 1] * along[:, 0])


def _marry(one: list[int], two: list[int], count: int) -> list[int]:
    """Pair ends, cheapest first, each end once and no rings."""
    mates = [-1] * (2 * count)
    parent = list(range(count))

    def root(i: int) -> int:
        while parent[i] != i:
            parent[i] = parent[parent[i]]
            i = parent[i]
        return i

    for a, b in zip(one, two, strict=True):
        if mates[a] < 0 and mates[b] < 0 and root(a // 2) != root(b // 2):
            parent[root(a // 2)] = root(b // 2)
            mates[a], mates[b] = b, a
    return mates


def _assemble(paths: Paths, mates: list[int]) -> Paths:
    """Follow the joints from each free end; every run of lines is met once."""
    joined = np.asarray(mates).reshape(-1, 2) >= 0
    single = np.logical_not(joined[:, 0] | joined[:, 1])
    lines = paths.lines()
    parts: list[Path] = []
    lengths: list[int] = []
    done = single.copy()
    for i in np.flatnonzero(joined[:, 0] != joined[:, 1]).tolist():  # lines at an end of a run
        if done[i]:
            continue
        entry = 2 * i if mates[2 * i] < 0 else 2 * i + 1
        lengths.append(0)
        while entry >= 0:
            done[entry // 2] = True
            line = lines[entry // 2] if entry % 2 == 0 else lines[entry // 2][::-1]
            if lengths[-1]:
                line = line[_overlap(parts[-1], line) :]
            parts.append(line)
            lengths[-1] += len(line)
            entry = mates[entry ^ 1]
    alone = paths.keep(single)
    return Paths(np.concatenate([*parts, alone.points]), np.array([*lengths, *alone.lengths.tolist()]))


def _overlap(before: Path, after: Path) -> int:
    """Points at the start of `after` that lie behind the end of `before`."""
    heading = after[min(len(after) - 1, 4)] - before[max(-5, -len(before))]
    ahead = (after[:4] - before[-1]) @ heading > 0
    return int(ahead.argmax())


def trace(
    found: RidgePoints,
    sure: NDArray[np.float32] | None = None,
    *,
    shape: tuple[int, int],
    gap_px: float,
    shortest_px: float,
) -> Paths:
    """Centrelines of every line, gaps and crossings bridged, in three rounds of growing reach.

    Short gaps are closed first, so that longer pieces with surer directions decide about the wide ones.

    Parameters
    ----------
    sure : (N,) float32 ndarray, optional
        See `link`.
    shape : (int, int)
        Of the picture.
    gap_px : float
        Widest gap bridged between long pieces.
    shortest_px : float
        Shorter paths are dropped at the end.

    Returns
    -------
    Paths
        About one point a pixel, not smoothed.
    """
    paths = link(found, sure, shape=shape, shortest=tuning.SHORTEST_CHAIN)
    for share, lever, turn, keep in tuning.BRIDGES:
        paths = bridge(
            paths, gap_px=max(share * gap_px, tuning.BRIDGE_LEAST_PX), lever_px=lever, turn_deg=turn
        )
        paths = paths.keep(paths.lengths >= keep * shortest_px)
    return paths
