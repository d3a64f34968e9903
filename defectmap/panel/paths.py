"""Many centrelines in one array: smoothing, even steps, going on beyond the ends, lengths and bends.

A panel shows hundreds of lines, and a step taken for one line after the other costs more in calls than in
arithmetic; so the points of all lines lie end to end, and each step works on all of them at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from defectmap.panel import tuning

SIXTEENTHS = 4  # bits of a pixel that OpenCV draws to
_Value = TypeVar("_Value", bound=np.generic)
Path = NDArray[np.float64]  # (N, 2) row, column of one line


@dataclass(frozen=True, slots=True, eq=False)
class Paths:
    """Points of all lines end to end, and how many belong to each."""

    points: NDArray[np.float64]  # (N, 2) row, column
    lengths: NDArray[np.int64]  # (P,) points of each line

    @classmethod
    def of(cls, lines: Sequence[Path]) -> Paths:
        """Lay lines end to end."""
        points = np.concatenate(lines) if len(lines) else np.empty((0, 2))
        return cls(points, np.array([len(line) for line in lines], dtype=np.int64))

    def __len__(self) -> int:
        """Count the lines."""
        return len(self.lengths)

    @property
    def starts(self) -> NDArray[np.int64]:
        """(P,) place of the first point of each line."""
        return np.asarray(np.cumsum(self.lengths) - self.lengths)

    @property
    def owner(self) -> NDArray[np.int64]:
        """(N,) which line each point belongs to."""
        return np.repeat(np.arange(len(self.lengths)), self.lengths)

    def lines(self) -> list[Path]:
        """Each line on its own, as a view."""
        return self.split(self.points)

    def split(self, values: NDArray[_Value]) -> list[NDArray[_Value]]:
        """What belongs to each line, of values at all points; views."""
        stops = np.cumsum(self.lengths).tolist()
        return [values[start:stop] for start, stop in zip([0, *stops], stops, strict=False)]

    def keep(self, wanted: NDArray[np.bool_]) -> Paths:
        """Only some of the lines."""
        if wanted.all():
            return self
        return Paths(self.points[np.repeat(wanted, self.lengths)], self.lengths[wanted])

    @staticmethod
    def between(starts: NDArray[np.int64], stops: NDArray[np.int64]) -> NDArray[np.int64]:
        """Numbers of the points from each start to each stop, end to end."""
        sizes = stops - starts
        return np.asarray(np.arange(int(sizes.sum())) + np.repeat(starts - np.cumsum(sizes) + sizes, sizes))

    def padded(self, pad: int) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
        """Each line with its end points repeated, so that one filter serves all lines and mixes none.

        Parameters
        ----------
        pad : int
            Places added at either end of each line.

        Returns
        -------
        source : (M,) int64 ndarray
            Which point to put in each place.
        real : (M,) bool ndarray
            Places that are no padding.
        """
        place, owner = self._places(pad)
        real = (place >= 0) & (place < self.lengths[owner])
        return self.starts[owner] + np.clip(place, 0, self.lengths[owner] - 1), real

    def _places(self, pad: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Place along its own line, from -pad, and line of each point of the padded lines."""
        wide = self.lengths + 2 * pad
        owner = np.repeat(np.arange(len(wide)), wide)
        return np.arange(len(owner)) - (np.cumsum(wide) - wide)[owner] - pad, owner


def smooth(paths: Paths, *, window_px: int = tuning.SMOOTH_PX) -> Paths:
    """Moving average with a bell-shaped window; the ends stay where they are.

    Steps between pixels are taken out before lengths are added up: counting along pixels reads up to 8 %
    long. Lines shorter than the window get a shorter one.
    """
    windows = np.minimum(window_px, paths.lengths // 2 * 2 - 1)
    smoothed = paths.points.copy()
    for window in np.unique(windows):
        if window >= 3:
            chosen = windows == window
            some = paths.keep(chosen)
            smoothed[np.repeat(chosen, paths.lengths)] = _smooth(some, int(window) // 2)
    return Paths(smoothed, paths.lengths)


def _smooth(paths: Paths, half: int) -> NDArray[np.float64]:
    place, owner = paths._places(half)
    first, last = paths.starts[owner], paths.starts[owner] + paths.lengths[owner] - 1
    at = first + place
    before, after = at < first, at > last
    # beyond an end the line is turned about that end, so that the average leaves the end in place
    inner = np.where(before, 2 * first - at, np.where(after, 2 * last - at, at))
    padded = paths.points[inner]
    for beyond, end in ((before, first), (after, last)):
        padded[beyond] = 2 * paths.points[end[beyond]] - padded[beyond]
    weights = np.hanning(2 * half + 3)[1:-1]
    weights /= weights.sum()
    real = np.nonzero(~(before | after))[0]
    return np.column_stack([np.convolve(padded[:, i], weights, "same")[real] for i in (0, 1)])


def resample(paths: Paths, *, step_px: float = 1.0) -> Paths:
    """Points at even distances along each line; both ends are kept."""
    if not len(paths):
        return paths
    starts, steps = paths.starts, steps_px(paths)
    travelled = np.cumsum(steps)
    own = np.add.reduceat(steps, starts)  # length of each line
    counts = np.where(own < step_px, np.minimum(paths.lengths, 2), np.round(own / step_px).astype(int) + 1)
    even = Paths(np.empty((int(counts.sum()), 2)), counts)
    owner = even.owner
    place = np.arange(len(owner)) - even.starts[owner]
    # one scale for all lines, with a gap of one between them, so that one interpolation serves all
    at = travelled[starts][owner] + owner + place * (own / np.maximum(counts - 1, 1))[owner]
    travelled = travelled + paths.owner
    points = np.column_stack([np.interp(at, travelled, paths.points[:, i]) for i in (0, 1)])
    points[even.starts], points[even.starts + counts - 1] = (
        paths.points[starts],
        paths.points[starts + np.where(counts > 1, paths.lengths, 1) - 1],
    )
    return Paths(points, counts)


def ends(paths: Paths, *, lever_px: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Place and outward unit direction of the ends; ends 2i and 2i+1 belong to line i.

    Parameters
    ----------
    lever_px : int
        Steps from each end over which its direction is fitted.

    Returns
    -------
    place, outward : (2 P, 2) float64 ndarray
    """
    lever = np.minimum(paths.lengths - 1, lever_px)[:, None]
    steps = np.arange(lever_px + 1)
    weights = np.where(steps <= lever, steps - lever / 2, 0.0)  # slope of the least-squares line
    first, last = paths.starts[:, None], (paths.starts + paths.lengths - 1)[:, None]
    reach = np.minimum(steps, lever)
    place, outward = np.empty((2 * len(paths), 2)), np.empty((2 * len(paths), 2))
    for way, tip, inwards in ((0, first, first + reach), (1, last, last - reach)):
        place[way::2] = paths.points[tip[:, 0]]
        outward[way::2] = -np.einsum("ps,psc->pc", weights, paths.points[inwards])
    return place, unit(outward)


def extend(paths: Paths, *, by_px: int, lever_px: int = tuning.EXTEND_LEVER_PX) -> Paths:
    """Go on straight beyond both ends, one point a pixel."""
    tips, outward = ends(paths, lever_px=lever_px)
    place, owner = paths._places(by_px)
    source, _ = paths.padded(by_px)
    longer = paths.points[source]
    before, after = place < 0, place >= paths.lengths[owner]
    for beyond, way, steps in ((before, 0, -place), (after, 1, place - paths.lengths[owner] + 1)):
        tip = 2 * owner[beyond] + way
        longer[beyond] = tips[tip] + steps[beyond, None] * outward[tip]
    return Paths(longer, paths.lengths + 2 * by_px)


def unit(steps: NDArray[np.float64]) -> NDArray[np.float64]:
    """(N, 2) steps as directions of length 1; nothing stays nothing."""
    return np.asarray(steps / np.maximum(np.hypot(steps[:, 0], steps[:, 1]), 1e-9)[:, None])


def tangents(paths: Paths) -> NDArray[np.float64]:
    """(N, 2) unit vectors along the lines."""
    points, first = paths.points, paths.starts
    last = first + paths.lengths - 1
    along = np.zeros_like(points)
    along[1:-1] = points[2:] - points[:-2]
    # at the ends of a line only one neighbour is its own
    along[first] = points[np.minimum(first + 1, last)] - points[first]
    along[last] = points[last] - points[np.maximum(last - 1, first)]
    return unit(along)


def normals(paths: Paths) -> NDArray[np.float64]:
    """(N, 2) unit vectors across the lines."""
    along = tangents(paths)
    return np.column_stack([along[:, 1], -along[:, 0]])


def paint(mask: NDArray[np.uint8], *lines: Path, width_px: int) -> None:
    """Draw lines into a mask in place, to a sixteenth of a pixel."""
    import cv2

    corners = [np.round(line[:, ::-1] * 2**SIXTEENTHS).astype(np.int32) for line in lines]
    cv2.polylines(mask, corners, False, 1, width_px, cv2.LINE_8, SIXTEENTHS)


def polyline_length_px(points: NDArray[np.float64]) -> float:
    """Length of a smoothed centreline.

    Examples
    --------
    >>> polyline_length_px(np.array([[0.0, 0.0], [3.0, 4.0]]))
    5.0
    """
    steps = points[1:] - points[:-1]
    return float(np.hypot(steps[:, 0], steps[:, 1]).sum())


def lengths_px(paths: Paths) -> NDArray[np.float64]:
    """(P,) `polyline_length_px` of each line."""
    if not len(paths):
        return np.empty(0)
    return np.asarray(np.add.reduceat(steps_px(paths), paths.starts))


def medians(values: NDArray[_Value], sizes: NDArray[np.int64]) -> NDArray[_Value]:
    """Median of each of several runs of values that lie end to end, as `np.median` gives it.

    Parameters
    ----------
    values : (N,) float ndarray
    sizes : (P,) int64 ndarray
        How many values belong to each run, at least 1.

    Returns
    -------
    (P,) float ndarray

    Examples
    --------
    >>> medians(np.array([3.0, 1.0, 2.0, 5.0, 4.0]), np.array([3, 2])).tolist()
    [2.0, 4.5]
    """
    order = np.lexsort((values, np.repeat(np.arange(len(sizes)), sizes)))
    starts = np.cumsum(sizes) - sizes
    low, high = (values[order[starts + half]] for half in ((sizes - 1) // 2, sizes // 2))
    return np.asarray((low + high) / values.dtype.type(2))


def steps_px(paths: Paths) -> NDArray[np.float64]:
    """(N,) distance of each point from the one before it on its line; 0 for the first."""
    steps = np.hypot(*np.diff(paths.points, axis=0, prepend=paths.points[:1]).T)
    if len(steps):
        steps[paths.starts] = 0.0
    return np.asarray(steps)


def radii_px(paths: Paths) -> NDArray[np.float64]:
    """Radius of the circle that each line bends on, from the parabola through it; infinite where straight.

    Parameters
    ----------
    paths : Paths
        Points at even distances along each line.

    Returns
    -------
    (P,) float64 ndarray
        Infinite also for lines of fewer than 5 points.
    """
    if not len(paths):
        return np.empty(0)
    starts, owner, count = paths.starts, paths.owner, paths.lengths
    along = 2.0 * (np.arange(len(owner)) - starts[owner]) / np.maximum(count - 1, 1)[owner] - 1.0
    # projection on the second Legendre polynomial: the bend, blind to place and direction
    shape = along**2
    shape -= (np.add.reduceat(shape, starts) / count)[owner]
    weight = np.maximum(np.add.reduceat(shape**2, starts), 1e-12)
    bend = np.add.reduceat(shape[:, None] * paths.points, starts) / weight[:, None]
    half = lengths_px(paths) / 2
    bent = 2 * np.hypot(bend[:, 0], bend[:, 1])
    radius = np.full(len(paths), np.inf)
    fits = (bent > 1e-9 * half) & (count >= tuning.BEND_LEAST_POINTS)
    radius[fits] = half[fits] ** 2 / bent[fits]
    return radius
