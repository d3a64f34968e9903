"""From crest points to centrelines: neighbours linked, gaps and crossings bridged by direction, smoothed.

A path is an (N, 2) float64 array of row, column. All linking is by geometry: where a line goes on is decided
by where it points, never by how bright it is.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from defectmap.ridges import RidgePoints

Path = NDArray[np.float64]

_REACH_PX = 2  # neighbours are sought in a 5 x 5 square
_NEIGHBOUR_TURN_RAD = np.deg2rad(30)
_NEIGHBOUR_ASIDE_PX = 1.2
_SURE = 1.12


def link(
    found: RidgePoints,
    sure: NDArray[np.float32] | None = None,
    *,
    shape: tuple[int, int],
    shortest: int = 2,
) -> list[Path]:
    """Chain crest points that follow each other along their own direction.

    Each point picks its best neighbour ahead and behind; a link needs both to agree, so chains never branch.

    Parameters
    ----------
    found : RidgePoints
    sure : (N,) float32 ndarray, optional
        Response of each point over the threshold it had to pass; chains of less than 1.12 on average are
        noise that just got over it, and are dropped.
    shape : (int, int)
        Of the picture they were found in.
    shortest : int
        Fewest points of a chain.

    Returns
    -------
    list of (N, 2) float64 ndarray
        In order along the line.
    """
    count = len(found.pixels)
    if count < 2:
        return []
    ahead, behind = _best_neighbours(found, shape)
    mates = np.full((count, 2), -1)
    own = np.arange(count)
    for column, choice in enumerate((ahead, behind)):
        other = np.maximum(choice, 0)
        mutual = (choice >= 0) & ((ahead[other] == own) | (behind[other] == own))
        mates[mutual, column] = choice[mutual]
    keep = _worth_walking(mates, sure, shortest)
    renumbered = np.cumsum(keep) - 1
    kept = mates[keep]
    kept = np.where(kept >= 0, renumbered[np.maximum(kept, 0)], -1)
    chains = _walk(kept)
    points = found.points[keep]
    order = points[[i for chain in chains for i in chain]] if chains else points[:0]
    return np.split(order, np.cumsum([len(c) for c in chains])[:-1]) if chains else []


def _worth_walking(
    mates: NDArray[np.int64], sure: NDArray[np.float32] | None, shortest: int
) -> NDArray[np.bool_]:
    """Points of chains that are long and sure enough; most chains of noise end here, before any loop."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    count = len(mates)
    here, side = np.nonzero(mates >= 0)
    graph = coo_array((np.ones(len(here), np.int8), (here, mates[here, side])), shape=(count, count))
    _, chain = connected_components(graph, directed=False)
    size = np.bincount(chain)
    good = size >= max(shortest, 2)
    if sure is not None:
        good &= np.bincount(chain, weights=sure) >= _SURE * size
    return np.asarray(good[chain])


def _best_neighbours(
    found: RidgePoints, shape: tuple[int, int]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Index of the best neighbour ahead and behind each point, -1 where there is none."""
    count = len(found.pixels)
    index = np.full((shape[0] + 2 * _REACH_PX, shape[1] + 2 * _REACH_PX), -1, np.int32)
    rows, columns = (found.pixels + _REACH_PX).T
    index[rows, columns] = np.arange(count)
    along = np.column_stack([np.sin(found.angle_rad), np.cos(found.angle_rad)])
    cost = [np.full(count, np.inf), np.full(count, np.inf)]
    best = [np.full(count, -1), np.full(count, -1)]
    span = range(-_REACH_PX, _REACH_PX + 1)
    for step_row, step_column in ((r, c) for r in span for c in span if (r, c) != (0, 0)):
        there = index[rows + step_row, columns + step_column]
        here = np.nonzero(there >= 0)[0]
        there = there[here]
        step = found.points[there] - found.points[here]
        forward = (step * along[here]).sum(1)
        aside = np.abs(step[:, 0] * along[here, 1] - step[:, 1] * along[here, 0])
        turn = np.abs((found.angle_rad[there] - found.angle_rad[here] + np.pi / 2) % np.pi - np.pi / 2)
        price = np.hypot(step[:, 0], step[:, 1]) + 2 * aside + 2 * turn
        fits = (np.abs(forward) > 0.3) & (turn < _NEIGHBOUR_TURN_RAD) & (aside < _NEIGHBOUR_ASIDE_PX)
        for way, side in ((0, forward > 0), (1, forward < 0)):
            better = fits & side & (price < cost[way][here])
            cost[way][here[better]] = price[better]
            best[way][here[better]] = there[better]
    return best[0], best[1]


def _walk(mates: NDArray[np.int64]) -> list[list[int]]:
    """Order the members of each chain; rings are cut open anywhere."""
    links = mates.tolist()
    degree = (mates >= 0).sum(1)
    used = [False] * len(links)
    chains: list[list[int]] = []
    for start in np.nonzero(degree == 1)[0].tolist() + np.nonzero(degree == 2)[0].tolist():
        if used[start]:
            continue
        used[start] = True
        chain, previous, current = [start], -1, start
        while True:
            first, second = links[current]
            following = second if first == previous or first < 0 else first
            if following < 0 or following == previous or used[following]:
                break
            used[following] = True
            chain.append(following)
            previous, current = current, following
        if len(chain) > 1:
            chains.append(chain)
    return chains


def bridge(paths: Sequence[Path], *, gap_px: float, lever_px: int, turn_deg: float) -> list[Path]:
    """Join ends that point at each other across a gap: breaks in a faint line, and crossings.

    Parameters
    ----------
    paths : sequence of (N, 2) float64 ndarray
    gap_px : float
        Widest gap that is bridged.
    lever_px : int
        Points at each end from which its direction is fitted.
    turn_deg : float
        Largest change of direction across the gap.

    Returns
    -------
    list of (N, 2) float64 ndarray
    """
    if len(paths) < 2:
        return list(paths)
    from scipy.spatial import cKDTree

    ends, outward = _ends(paths, lever_px)
    pairs = cKDTree(ends).query_pairs(gap_px, output_type="ndarray")
    one, two = pairs[pairs[:, 0] // 2 != pairs[:, 1] // 2].T
    step = ends[two] - ends[one]
    distance = np.hypot(step[:, 0], step[:, 1])
    turn = np.arccos(np.clip(-(outward[one] * outward[two]).sum(1), -1, 1))
    aside = np.maximum(_aside(step, outward[one]), _aside(step, outward[two]))
    facing = ((step * outward[one]).sum(1) > -3) & ((step * outward[two]).sum(1) < 3)
    fits = np.nonzero(facing & (turn < np.deg2rad(turn_deg)) & (aside < 1.5 + 0.1 * distance))[0]
    price = distance + 4 * aside + 20 * turn
    order = fits[np.argsort(price[fits], kind="stable")]
    mates = _marry(one[order].tolist(), two[order].tolist(), len(paths))
    return _assemble(paths, mates)


def _aside(step: NDArray[np.float64], along: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.abs(step[:, 0] * along[:, 1] - step[:, 1] * along[:, 0])


def _ends(paths: Sequence[Path], lever_px: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Place and outward unit direction of each end; ends 2i and 2i+1 belong to path i."""
    ends, outward = np.empty((2 * len(paths), 2)), np.empty((2 * len(paths), 2))
    for i, path in enumerate(paths):
        lever = min(len(path) - 1, lever_px)
        weights = np.arange(lever + 1) - lever / 2  # slope of the least-squares line
        ends[2 * i], ends[2 * i + 1] = path[0], path[-1]
        outward[2 * i], outward[2 * i + 1] = -(weights @ path[: lever + 1]), weights @ path[-lever - 1 :]
    outward /= np.maximum(np.hypot(outward[:, 0], outward[:, 1]), 1e-9)[:, None]
    return ends, outward


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


def _assemble(paths: Sequence[Path], mates: list[int]) -> list[Path]:
    """Follow the joints from each free end; every run of paths is met once."""
    joined: list[Path] = []
    done = [False] * len(paths)
    for i in range(len(paths)):
        if done[i] or (mates[2 * i] >= 0 and mates[2 * i + 1] >= 0):
            continue
        entry = 2 * i if mates[2 * i] < 0 else 2 * i + 1
        parts: list[Path] = []
        while entry >= 0:
            done[entry // 2] = True
            path = paths[entry // 2] if entry % 2 == 0 else paths[entry // 2][::-1]
            parts.append(path if not parts else path[_overlap(parts[-1], path) :])
            entry = mates[entry ^ 1]
        joined.append(np.concatenate(parts) if len(parts) > 1 else parts[0])
    return joined


def _overlap(before: Path, after: Path) -> int:
    """Points at the start of `after` that lie behind the end of `before`."""
    heading = after[min(len(after) - 1, 4)] - before[max(-5, -len(before))]
    ahead = (after[:4] - before[-1]) @ heading > 0
    return int(ahead.argmax())


def smooth(path: Path, *, window_px: int = 9) -> Path:
    """Moving average with a bell-shaped window; the ends stay where they are.

    Steps between pixels are taken out before lengths are added up: counting along pixels reads up to 8 %
    long.
    """
    window = min(window_px, len(path) // 2 * 2 - 1)
    half = window // 2
    if half < 1:
        return path
    weights = np.hanning(window + 2)[1:-1]
    weights /= weights.sum()
    before = 2 * path[0] - path[half:0:-1]
    after = 2 * path[-1] - path[-2 : -half - 2 : -1]
    padded = np.concatenate([before, path, after])
    return np.column_stack([np.convolve(padded[:, i], weights, "valid") for i in (0, 1)])


def paint(mask: NDArray[np.uint8], path: Path, *, width_px: int) -> None:
    """Draw a path into a mask in place, to a sixteenth of a pixel."""
    import cv2

    corners = np.round(path[:, ::-1] * 16).astype(np.int32)
    cv2.polylines(mask, [corners], False, 1, width_px, cv2.LINE_8, 4)


def resample(path: Path, *, step_px: float = 1.0) -> Path:
    """Points at even distances along a path; both ends are kept."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    if along[-1] < step_px:
        return path[[0, -1]] if len(path) > 1 else path
    at = np.linspace(0.0, along[-1], round(along[-1] / step_px) + 1)
    return np.column_stack([np.interp(at, along, path[:, i]) for i in (0, 1)])


def extend(path: Path, *, by_px: int, lever_px: int = 20) -> Path:
    """Go on straight beyond both ends, one point a pixel."""
    ends, outward = _ends([path], lever_px)
    steps = np.arange(1, by_px + 1)[:, None]
    return np.concatenate([(ends[0] + steps * outward[0])[::-1], path, ends[1] + steps * outward[1]])


def polyline_length_px(points: NDArray[np.float64]) -> float:
    """Length of a smoothed centreline.

    Examples
    --------
    >>> polyline_length_px(np.array([[0.0, 0.0], [3.0, 4.0]]))
    5.0
    """
    return float(np.hypot(*np.diff(np.asarray(points, dtype=float), axis=0).T).sum())


def radius_mm(line_mm: Path) -> float:
    """Radius of the circle that a line bends on, from the parabola through it; infinite for a straight line.

    Parameters
    ----------
    line_mm : (N, 2) float64 ndarray
        At even distances along the line.
    """
    count = len(line_mm)
    if count < 5:
        return float("inf")
    along = np.linspace(-1.0, 1.0, count)
    # projection on the second Legendre polynomial: the bend, blind to place and direction
    shape = along**2 - np.mean(along**2)
    bend = shape @ line_mm / (shape @ shape)
    half = polyline_length_px(line_mm) / 2
    bent = 2 * float(np.hypot(*bend))
    return half**2 / bent if bent > 1e-9 * half else float("inf")


def trace(
    found: RidgePoints,
    sure: NDArray[np.float32] | None = None,
    *,
    shape: tuple[int, int],
    gap_px: float = 40.0,
    shortest_px: float = 14.0,
) -> list[Path]:
    """Centrelines of every line, gaps and crossings bridged, in three rounds of growing reach.

    Short gaps are closed first, so that longer pieces with surer directions decide about the wide ones.

    Parameters
    ----------
    found : RidgePoints
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
    list of (N, 2) float64 ndarray
        About one point a pixel, not smoothed.
    """
    paths = link(found, sure, shape=shape, shortest=4)
    rounds = ((gap_px / 5, 8, 25.0, 0.4), (gap_px * 0.6, 20, 15.0, 0.7), (gap_px, 30, 10.0, 1.0))
    for gap, lever, turn, keep in rounds:
        paths = bridge(paths, gap_px=max(gap, 6.0), lever_px=lever, turn_deg=turn)
        paths = [p for p in paths if len(p) >= keep * shortest_px]
    return paths
