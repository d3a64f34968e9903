"""One line for each groove: what frames show of it is followed from piece to piece, and counted once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from defectmap.film import tuning
from defectmap.film.homography import Points
from defectmap.film.lines import OrientedPoints, along_line
from defectmap.film.pieces import Pieces
from defectmap.panel.paths import Paths, resample, smooth


def join(pieces: Pieces, *, shortest_px: float) -> list[Points]:
    """Follow every groove over all frames.

    The best piece that no line covers yet becomes a line; at each end the piece that goes on farthest from
    there is added, until none does; then all that lies along the line is covered by it.

    Parameters
    ----------
    shortest_px : float
        Uncovered pieces that are shorter start no line.

    Returns
    -------
    list of (N, 2) float64 ndarray
        Centrelines on the map, about a point a pixel.
    """
    covered = np.zeros(len(pieces.lines), bool)
    least = max(tuning.TAIL_POINTS, round(shortest_px / 2))
    found: list[Points] = []
    for line in np.argsort(-pieces.merit, kind="stable").tolist():
        start, count = int(pieces.starts[line]), int(pieces.counts[line])
        while True:
            first, stop = _longest_run(~covered[start : start + count])
            if stop - first < least:
                break
            covered[start + first : start + stop] = True
            path = pieces.points_of(line)[first:stop]
            path = _followed(_followed(path, pieces, covered)[::-1], pieces, covered)
            _cover(path, pieces, covered)
            found.append(path)
    return _centred(found, pieces)


def _longest_run(free: NDArray[np.bool_]) -> tuple[int, int]:
    edges = np.flatnonzero(np.diff(np.concatenate([[False], free, [False]]).astype(np.int8)))
    starts, stops = edges[::2], edges[1::2]
    if not len(starts):
        return 0, 0
    best = int((stops - starts).argmax())
    return int(starts[best]), int(stops[best])


def _near(points: Points, pieces: Pieces, reach_px: float) -> NDArray[np.intp]:
    """Points of pieces that lie along a line, several times where several of its points are near."""
    lines = OrientedPoints(at=points, along=along_line(points))
    met = pieces.tree.query_ball_point(lines.embedded(tuning.JOIN_LEVER_PX), reach_px)
    return np.array([place for some in met for place in some], np.intp)


def _cover(path: Points, pieces: Pieces, covered: NDArray[np.bool_]) -> None:
    covered[_near(path, pieces, tuning.SAME_LINE_PX + tuning.COVER_MARGIN_PX)] = True


def _followed(path: Points, pieces: Pieces, covered: NDArray[np.bool_]) -> Points:
    """Go on from the end of a path as far as pieces lead."""
    for _ in range(tuning.ENDLESS):
        tail = path[-tuning.TAIL_POINTS :]
        met = pieces.owner[_near(tail, pieces, tuning.SAME_LINE_PX)]
        lines, shared = np.unique(met, return_counts=True)
        best: Points | None = None
        for line in lines[shared >= tuning.FEWEST_SHARED].tolist():
            onward = _onward(tail, line, pieces, covered)
            if onward is not None and (best is None or len(onward) > len(best)):
                best = onward
        if best is None:
            break
        path = np.concatenate([path, best])
    return path


def _onward(tail: Points, line: int, pieces: Pieces, covered: NDArray[np.bool_]) -> Points | None:
    """What of a piece lies beyond the end of a line and belongs to no other line yet."""
    start, count = int(pieces.starts[line]), int(pieces.counts[line])
    points, taken = pieces.points_of(line), covered[start : start + count]
    heading = tail[-1] - tail[0]
    if (points[-1] - points[0]) @ heading < 0:
        points, taken = points[::-1], taken[::-1]
    away = points - tail[-1]
    nearest = int(np.hypot(away[:, 0], away[:, 1]).argmin())
    beyond = np.flatnonzero(away[nearest:] @ heading > 0.5 * np.hypot(*heading))
    if not len(beyond):
        return None
    first = nearest + int(beyond[0])
    free = ~taken[first:]
    stop = first + (len(free) if free.all() else int(free.argmin()))
    if stop - first < tuning.FEWEST_SHARED or np.hypot(*away[first]) > tuning.GAP_PX:
        return None
    return points[first:stop]


def _centred(lines: list[Points], pieces: Pieces) -> list[Points]:
    """Even steps, and each point moved across to the mean of all frames that show it."""
    paths = smooth(resample(Paths.of(lines)), window_px=tuning.SMOOTH_PX)
    for _ in range(tuning.CENTRING_ROUNDS):
        here = on_paths(paths)
        point, place, _ = meetings(here, pieces)
        aside = ((pieces.lines.at[place] - here.at[point]) * here.across[point]).sum(1)
        met = np.bincount(point, minlength=len(here))
        shift = np.bincount(point, weights=aside, minlength=len(here)) / np.maximum(met, 1)
        paths = smooth(
            Paths(paths.points + shift[:, None] * here.across, paths.lengths), window_px=tuning.SMOOTH_PX
        )
    return paths.lines()


def on_paths(paths: Paths) -> OrientedPoints:
    """The points of centrelines on the map, with directions."""
    along = [along_line(line) for line in paths.lines()]
    return OrientedPoints(at=paths.points, along=np.concatenate(along) if along else np.empty((0, 2)))


def meetings(
    here: OrientedPoints, pieces: Pieces
) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.float64]]:
    """Pairs of a point of a centreline and a point of a piece that lies on it, and how far apart they are."""
    from scipy.spatial import cKDTree

    if not len(here) or not len(pieces.lines):
        return np.empty(0, np.intp), np.empty(0, np.intp), np.empty(0)
    own = cKDTree(here.embedded(tuning.JOIN_LEVER_PX))
    pairs = own.sparse_distance_matrix(pieces.tree, tuning.SAME_LINE_PX, output_type="ndarray")
    return pairs["i"], pairs["j"], pairs["v"]
