"""How much less a film shows than another: only places and directions that both could show, with an interval.

Density is the sum over directions of length over the area in which both sweeps could show that direction, so
that two paths of the lamp are held to the same question. What scatters is told by the data: blocks of the
panel left out, one after another, and groups of frames left out of either film (the jackknife; Efron and
Tibshirani, *An Introduction to the Bootstrap*, chapter 11, from memory).

The interval is of this spot, not of the panel. A photograph shows a small sample of a spot's marks, and which
ones chance decides; a film shows most of them, and what was seen whole does not scatter. So of the scatter
between blocks only the share counts that belongs to what the films did not show (the finite population
correction: Cochran, *Sampling Techniques*, 1977, section 2.6, from memory). A mark is as strong as at its
best lamp place, and two sweeps have other places: a part of what further frames would add is scatter too.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from defectmap.comparison.interval import RatioInterval, log_interval
from defectmap.film import tuning
from defectmap.film.assembling import FilmMeasurement
from defectmap.film.directions import LampPlace, Rose, direction_bin, rose
from defectmap.film.homography import Homography, transform_lines
from defectmap.film.joining import on_paths
from defectmap.panel.candidates import runs
from defectmap.panel.measurement import MarkKind
from defectmap.panel.paths import Paths, lengths_px, steps_px
from defectmap.panel.tuning import STANDARD_LENGTH_MM, STANDARD_UM


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Common:
    """Where, and for which directions, both films speak; on the before film's grid."""

    grid: Rose
    both: NDArray[np.bool_]  # (rows, columns, bins)
    cell_cm2: float

    @property
    def area_cm2(self) -> NDArray[np.float64]:
        """(bins,) area in which each direction could be shown by both."""
        return np.asarray((self.both * self.grid.zone_share[..., None]).sum(axis=(0, 1)) * self.cell_cm2)

    @property
    def share(self) -> float:
        """Of all directions over all of the common zone."""
        zone = float(self.grid.zone_share.sum())
        return float((self.both.mean(axis=2) * self.grid.zone_share).sum() / zone) if zone else 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lengths:
    """Length of marks in the common places and directions, by block and direction; one film."""

    by_block: NDArray[np.float64]  # (blocks, bins) mm
    without: NDArray[np.float64]  # (groups, bins) mm, as if a group of frames had not been taken


def common_of(before: FilmMeasurement, after: FilmMeasurement, to_before: Homography) -> Common:
    """Places and directions that several lamp places of either film could show.

    Parameters
    ----------
    before, after : FilmMeasurement
    to_before : (3, 3) float64 ndarray
        Px of the after map to those of the before map.
    """
    import cv2

    shape = before.panel.zone.shape
    warped = cv2.warpPerspective(
        after.panel.zone.view(np.uint8), to_before, shape[::-1], flags=cv2.INTER_NEAREST
    )
    zone = before.panel.zone & (np.asarray(warped) > 0)
    cell = tuning.CELL_MM * before.window_scale
    one = rose(before.lamps, zone, cell_px=cell)
    other = rose([_moved(lamp, to_before) for lamp in after.lamps], zone, cell_px=cell)
    least = tuning.LAMP_PLACES_TO_COMPARE
    return Common(
        grid=one,
        both=(one.lamp_places >= least) & (other.lamp_places >= least),
        cell_cm2=(cell / before.panel.scale.px_per_mm) ** 2 / 100,
    )


def lengths_in(
    film: FilmMeasurement, common: Common, to_before: Homography, *, kind: MarkKind | None = None
) -> Lengths:
    """Length of a film's standard marks where both films speak.

    Parameters
    ----------
    film : FilmMeasurement
    common : Common
    to_before : (3, 3) float64 ndarray
        The film's map to the before map.
    kind : str, optional
        Only marks of this kind.
    """
    lines = film.lines
    here = on_paths(lines.paths)
    at, along = transform_lines(to_before, here.at, here.along)
    row, column = common.grid.cells_of(at)
    bins = direction_bin(along)
    rows, columns = common.grid.zone_share.shape
    inside = np.all((at >= 0) & (at < np.array([columns, rows]) * common.grid.cell_px), axis=1)
    step_mm = steps_px(lines.paths) / film.panel.scale.px_per_mm
    wanted = inside & common.both[row, column, bins]
    if kind is not None:
        wanted &= np.repeat(np.array(film.line_kinds) == kind, lines.paths.lengths)
    weight = np.where(wanted, step_mm, 0.0)
    block = _blocks(row, column, rows, columns)
    count = int(block.max(initial=0)) + 1
    strong = _strong(np.abs(lines.um).max(axis=0, initial=0.0), lines.paths, film.window_scale)
    whole = np.bincount(block * tuning.DIRECTION_BINS + bins, weight * strong, count * tuning.DIRECTION_BINS)
    without = []
    for group in range(tuning.FRAME_GROUPS):
        left = np.arange(len(lines.um)) % tuning.FRAME_GROUPS != group
        less = _strong(np.abs(lines.um[left]).max(axis=0, initial=0.0), lines.paths, film.window_scale)
        without.append(np.bincount(bins, weight * less, tuning.DIRECTION_BINS))
    return Lengths(by_block=np.asarray(whole.reshape(count, -1), np.float64), without=np.array(without))


def density(lengths_mm: NDArray[np.float64], area_cm2: NDArray[np.float64]) -> float:
    """Line length density of a field of which each direction was seen over an area of its own; mm/cm².

    L_A is the integral of the rose of directions: the length of lines of each direction over the area in
    which lines of that direction could be seen, added up (rose of directions: Stoyan, Kendall and Mecke,
    *Stochastic Geometry and its Applications*, on fibre processes; from memory). Nothing is taken to be
    isotropic, and directions that were seen nowhere count as none.

    Parameters
    ----------
    lengths_mm, area_cm2 : (bins,) float64 ndarray

    Examples
    --------
    >>> density(np.array([10.0, 30.0, 0.0]), np.array([5.0, 10.0, 0.0]))
    5.0
    """
    seen = area_cm2 > 0
    return float((lengths_mm[seen] / area_cm2[seen]).sum())


def ratio_interval(before: Lengths, after: Lengths, common: Common) -> RatioInterval:
    """Ratio of the densities after over before, and its interval.

    Parameters
    ----------
    before, after : Lengths
        Both above 0.
    common : Common
    """
    area = common.area_cm2
    total = density(after.by_block.sum(0), area) / density(before.by_block.sum(0), area)
    count = max(len(before.by_block), len(after.by_block))
    one, other = _padded(before.by_block, count), _padded(after.by_block, count)
    used = [k for k in range(count) if one[k].sum() + other[k].sum() > 0]
    blocked = _jackknife([_log_ratio(one.sum(0) - one[k], other.sum(0) - other[k], area) for k in used])
    framed = [
        _jackknife([_log_ratio(part, after.by_block.sum(0), area) for part in before.without]),
        _jackknife([_log_ratio(before.by_block.sum(0), part, area) for part in after.without]),
    ]
    unseen = 1 - tuning.SHOWN_OF_SHOWABLE * common.share
    swept = [tuning.OF_FURTHER_FRAMES * _further_frames(film, area) for film in (before, after)]
    variance = unseen * blocked + sum(framed) + sum(np.square(swept)) + tuning.FILM_SCATTER**2
    return log_interval(
        total,
        se_log=math.sqrt(variance),
        df=max(2.0, len(used) - 1.0),
        method="films: blocks and frames left out (jackknife)",
    )


def _log_ratio(before: NDArray[np.float64], after: NDArray[np.float64], area: NDArray[np.float64]) -> float:
    one, other = density(before, area), density(after, area)
    return math.log(other / one) if one > 0 and other > 0 else math.nan


def _further_frames(film: Lengths, area: NDArray[np.float64]) -> float:
    """How much more, as a share, a film of many more lamp places would show (the jackknife's bias)."""
    whole = density(film.by_block.sum(0), area)
    less = float(np.mean([density(part, area) for part in film.without]))
    return max(0.0, (len(film.without) - 1) * (1 - less / whole)) if whole > 0 else 0.0


def _jackknife(values: Sequence[float]) -> float:
    """Variance of an estimate from its values with one part left out each."""
    known = np.array([value for value in values if math.isfinite(value)])
    if len(known) < 2:
        return 0.0
    return float((len(known) - 1) / len(known) * ((known - known.mean()) ** 2).sum())


def _strong(at_best: NDArray[np.float32], paths: Paths, scale: float) -> NDArray[np.bool_]:
    """Points in runs of the standard."""
    strong = np.zeros(len(at_best), bool)
    starts, stops = runs(at_best >= STANDARD_UM, paths)
    if not len(starts):
        return strong
    pieces = Paths.of([paths.points[a:b] for a, b in zip(starts, stops, strict=True)])
    for start, stop, length in zip(starts, stops, lengths_px(pieces), strict=True):
        if length >= STANDARD_LENGTH_MM * scale:
            strong[start:stop] = True
    return strong


def _blocks(row: NDArray[np.intp], column: NDArray[np.intp], rows: int, columns: int) -> NDArray[np.intp]:
    """Block of each cell: some four rows of six."""
    down = max(1, math.ceil(rows / tuning.BLOCK_ROWS))
    right = max(1, math.ceil(columns / tuning.BLOCK_COLUMNS))
    return np.asarray((row // down) * tuning.BLOCK_COLUMNS + column // right, np.intp)


def _moved(lamp: LampPlace, to_before: Homography) -> LampPlace:
    from defectmap.film.homography import transform

    here = np.array([[lamp.x, lamp.y], [lamp.x + lamp.radius_px, lamp.y]])
    (x, y), edge = transform(to_before, here)
    return LampPlace(x=float(x), y=float(y), radius_px=float(np.hypot(*(edge - [x, y]))))


def _padded(table: NDArray[np.float64], count: int) -> NDArray[np.float64]:
    return np.vstack([table, np.zeros((count - len(table), table.shape[1]))])
