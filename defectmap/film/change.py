"""How much less a film shows than another: only places and directions that both could show, with an interval.

Density is the sum over directions of length over the area in which both sweeps show that direction well, so
that two paths of the lamp are held to the same question. What `levelled` makes of the ratio is a
guess in part, and widens the interval.

The interval is of this spot, and both films show the same grooves of it. A mark that both show says nothing
against the figure, whatever it weighs: it stands above and below the line. So what scatters is told by what
differs and should not. Polishing takes marks away; marks that only the film after shows were at the limit
before, and as many of those before are gone for no other reason. Groups of frames left out of either film say
what the sweep's own chance does (the jackknife; Efron and Tibshirani, *An Introduction to the Bootstrap*,
chapter 11, from memory). What two sweeps differ by beyond that is read off pairs of rendered films.
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
from defectmap.film.common_ground import Common
from defectmap.film.homography import Homography
from defectmap.film.joining import on_paths
from defectmap.film.lines import OrientedPoints
from defectmap.film.strongest import bridged
from defectmap.panel.candidates import runs
from defectmap.panel.measurement import MarkKind
from defectmap.panel.paths import Paths, lengths_px, steps_px
from defectmap.panel.tuning import STANDARD_LENGTH_MM, STANDARD_UM


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lengths:
    """Length of marks in the common places and directions; one film."""

    by_direction: NDArray[np.float64]  # (bins,) mm
    without: NDArray[np.float64]  # (groups, bins) mm, as if a group of frames had not been taken
    alone_mm: NDArray[np.float64]  # (lines,) of each line, what the other film does not show


def strong_lines(film: FilmMeasurement, to_before: Homography) -> OrientedPoints:
    """The points of a film's standard marks, on the before map."""
    here = on_paths(film.lines.paths)
    strong = _strong(_at_best(film.lines.um), film.lines.paths, film.window_scale)
    return OrientedPoints(at=here.at[strong], along=here.along[strong]).moved(to_before)


def lengths_in(
    film: FilmMeasurement,
    common: Common,
    to_before: Homography,
    *,
    kind: MarkKind | None = None,
    beside: OrientedPoints | None = None,
) -> Lengths:
    """Length of a film's standard marks where both films speak.

    Parameters
    ----------
    to_before : (3, 3) float64 ndarray
        The film's map to the before map.
    kind : str, optional
        Only marks of this kind.
    beside : OrientedPoints, optional
        The other film's `strong_lines`; without, every mark counts as shown by this film alone.
    """
    lines = film.lines
    here, cells = common.cells(film, to_before)
    bins = cells[2]
    wanted = _inside(here.at, common.zone) & common.both[cells]
    if kind is not None:
        wanted &= np.repeat(np.array(film.line_kinds) == kind, lines.paths.lengths)
    mm = np.where(wanted, steps_px(lines.paths) / film.panel.scale.px_per_mm, 0.0)

    def strong(um: NDArray[np.float32]) -> NDArray[np.float64]:
        return mm * _strong(_at_best(um), lines.paths, film.window_scale)

    whole = strong(lines.um)
    group = np.arange(len(lines.um)) % tuning.FRAME_GROUPS
    without = [strong(lines.um[group != left]) for left in range(tuning.FRAME_GROUPS)]
    alone = whole if beside is None else np.where(_meets(here, beside), 0.0, whole)
    return Lengths(
        by_direction=np.asarray(np.bincount(bins, whole, tuning.DIRECTION_BINS), np.float64),
        without=np.array([np.bincount(bins, less, tuning.DIRECTION_BINS) for less in without]),
        alone_mm=np.asarray(np.bincount(lines.paths.owner, alone, len(lines.paths)), np.float64),
    )


def _inside(points: NDArray[np.float64], zone: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """(N,) whether a point x, y lies in the zone: area that only one film shows is in neither's figure."""
    places = np.round(points[:, ::-1]).astype(int)
    within = np.all((places >= 0) & (places < zone.shape), axis=1)
    within[within] = zone[tuple(places[within].T)]
    return np.asarray(within, np.bool_)


def _at_best(um: NDArray[np.float32]) -> NDArray[np.float32]:
    return np.asarray(np.abs(um).max(axis=0, initial=0.0), np.float32)


def _meets(here: OrientedPoints, other: OrientedPoints) -> NDArray[np.bool_]:
    """(N,) whether a point lies on a line of the other film."""
    from scipy.spatial import cKDTree

    if not len(here) or not len(other):
        return np.zeros(len(here), bool)
    away, _ = cKDTree(other.embedded(tuning.LEVER_PX)).query(
        here.embedded(tuning.LEVER_PX), distance_upper_bound=tuning.SAME_MARK_PX
    )
    return np.asarray(np.isfinite(away))


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


def ratio_interval(
    before: Lengths, after: Lengths, common: Common, *, by_sweeps: float = 0.0
) -> RatioInterval:
    """Ratio of the densities after over before, and its interval.

    Parameters
    ----------
    before, after : Lengths
        Both above 0.
    by_sweeps : float, optional
        What `levelled` made of the logarithm of the ratio.
    """
    area = common.area_cm2
    framed = _jackknife([_log_ratio(part, after.by_direction, area) for part in before.without])
    framed += _jackknife([_log_ratio(before.by_direction, part, area) for part in after.without])
    variance = tuning.OF_FRAMES * framed + tuning.OF_GAINS * _gained(before, after)
    variance += tuning.OF_SWEEPS * by_sweeps**2 + tuning.FILM_SCATTER**2
    return log_interval(
        density(after.by_direction, area) / density(before.by_direction, area),
        se_log=math.sqrt(variance),
        df=2.0 * (tuning.FRAME_GROUPS - 1),
        method="films",
    )


def _gained(before: Lengths, after: Lengths) -> float:
    """Variance of the logarithm of the ratio by marks at the limit, each groove shown or not as a whole.

    As many as appear disappear; where more were before, more of them lay at the limit. Where marks were
    added, what appears is real and this says too much, never too little.
    """
    fewer, more = sorted((before, after), key=lambda film: float(film.by_direction.sum()))
    one, other = float(fewer.by_direction.sum()), float(more.by_direction.sum())
    return float(np.square(fewer.alone_mm).sum()) * (1 / one**2 + 1 / (one * other))


def swept(before: tuple[Lengths, Lengths], after: tuple[Lengths, Lengths], common: Common) -> float:
    """What levelling made of the logarithm of the ratio; 0 where a film shows nothing.

    Parameters
    ----------
    before, after : (Lengths, Lengths)
        As filmed, and levelled.
    """
    filmed, level = (
        _log_ratio(before[k].by_direction, after[k].by_direction, common.area_cm2) for k in (0, 1)
    )
    return level - filmed if math.isfinite(level - filmed) else 0.0


def _log_ratio(before: NDArray[np.float64], after: NDArray[np.float64], area: NDArray[np.float64]) -> float:
    one, other = density(before, area), density(after, area)
    return math.log(other / one) if one > 0 and other > 0 else math.nan


def _jackknife(values: Sequence[float]) -> float:
    """Variance of an estimate from its values with one part left out each."""
    known = np.array([value for value in values if math.isfinite(value)])
    if len(known) < 2:
        return 0.0
    return float((len(known) - 1) / len(known) * ((known - known.mean()) ** 2).sum())


def _strong(at_best: NDArray[np.float32], paths: Paths, scale: float) -> NDArray[np.bool_]:
    """Points in runs of the standard."""
    strong = np.zeros(len(at_best), bool)
    if not len(paths):
        return strong
    starts, stops = runs(bridged(at_best, paths, scale=scale) >= STANDARD_UM, paths)
    if not len(starts):
        return strong
    pieces = Paths.of([paths.points[a:b] for a, b in zip(starts, stops, strict=True)])
    for start, stop, length in zip(starts, stops, lengths_px(pieces), strict=True):
        if length >= STANDARD_LENGTH_MM * scale:
            strong[start:stop] = True
    return strong
