"""Read every line of the map once more in every frame whose lamp could light it: ends fade before lines do.

A frame by itself shows a line only as far as it stands out there; the map knows where the line runs, so that
a frame is asked about places, not about lines, and the faint ends of a groove are read as surely as its
middle. What counts as read is told from the scatter beside the lines, where there is paint and nothing else.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from defectmap.film import tuning
from defectmap.film.directions import LampPlace, lit_by
from defectmap.film.framing import MeasuredFrame
from defectmap.film.homography import Homography, Points, transform
from defectmap.film.joining import on_paths
from defectmap.film.lines import OrientedPoints
from defectmap.film.strongest import Lines
from defectmap.panel.candidates import runs
from defectmap.panel.noise import MEDIAN_OF_NORMAL
from defectmap.panel.paths import Paths, extend
from defectmap.panel.strength import equivalent_width
from defectmap.panel.threads import in_pairs


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Reading:
    """Equivalent width at places of the map in one frame."""

    places: NDArray[np.intp]  # (n,) which points of the lines
    um: NDArray[np.float32]
    beside: NDArray[np.float32]
    quiet_um: NDArray[np.float32]  # the same, beside the lines


def reread(
    lines: Lines,
    frames: list[MeasuredFrame],
    to_map: list[Homography],
    lamps: list[LampPlace],
    *,
    scale: float,
) -> Lines:
    """Lengthen lines at both ends, and read their strength in all frames.

    Parameters
    ----------
    lines : Lines
        As joined.
    to_map : list of (3, 3) float64 ndarray
    lamps : list of LampPlace
        Of the frames, on the map.
    scale : float
        Pixels a millimetre, or what is taken for it.

    Returns
    -------
    Lines
        Strength 0 where a frame shows nothing that stands out of the scatter beside.
    """
    if not len(lines.paths):
        return lines
    longer, source, core = _lengthened(lines.paths, round(tuning.REREAD_MM * scale))
    here = on_paths(longer)
    readings = in_pairs(
        lambda one: _reading(one[0], one[1], here, longer.lengths, one[2], scale=scale),
        zip(frames, to_map, lamps, strict=True),
    )
    um = np.where(core, lines.um[:, source], np.float32(0))
    beside = lines.beside[source]
    best = np.abs(um).max(axis=0)
    limit = _limit(readings, len(best))
    level, scatter = _scatter(readings)
    for number, found in enumerate(readings):
        known = np.interp(np.log(np.maximum(found.beside, tuning.DARKEST)), level, scatter)
        sure = np.abs(found.um) >= limit[found.places] * known
        stronger = sure & (np.abs(found.um) > np.abs(um[number, found.places]))
        places, values = found.places[stronger], found.um[stronger]
        um[number, places] = values
        better = np.abs(values) > best[places]
        best[places[better]] = np.abs(values[better])
        beside[places[better]] = found.beside[stronger][better]
    return Lines(
        paths=longer,
        um=um,
        beside=beside,
        contrast_to_noise=lines.contrast_to_noise[source],
        width_mm=lines.width_mm[source],
    )


def _limit(readings: list[_Reading], count: int) -> NDArray[np.float64]:
    """(N,) times the scatter that a reading must reach: more where more frames look, as one errs sooner.

    So high that all looks together go wrong as rarely as a single one at `tuning.REREAD_SIGMAS` (the
    inequality of Boole and Bonferroni).
    """
    from scipy.stats import norm

    looks = np.bincount(np.concatenate([found.places for found in readings]), minlength=count)
    of_one = norm.sf(tuning.REREAD_SIGMAS)
    return np.asarray(norm.isf(of_one / np.maximum(looks, 1)), np.float64)


def _lengthened(paths: Paths, by_px: int) -> tuple[Paths, NDArray[np.intp], NDArray[np.bool_]]:
    """Lines carried on at both ends, but not along another line.

    Returns
    -------
    longer : Paths
    source : (N,) intp ndarray
        Point of the lines given that each point stands for.
    core : (N,) bool ndarray
        Whether it is that point, and no extension.
    """
    from scipy.spatial import cKDTree

    longer = extend(paths, by_px=by_px)
    source, core = paths.padded(by_px)
    owner = longer.owner
    tree = cKDTree(on_paths(paths).embedded(tuning.JOIN_LEVER_PX))
    ends = np.flatnonzero(~core)
    away, which = tree.query(
        on_paths(longer).embedded(tuning.JOIN_LEVER_PX)[ends],
        k=2,
        distance_upper_bound=tuning.SAME_LINE_PX + 0.5,
    )
    known = np.append(paths.owner, -1)[which]
    taken = np.zeros(len(core), bool)
    taken[ends] = (np.isfinite(away) & (known != owner[ends, None])).any(axis=1)
    kept = _connected(~taken, core, longer)
    lengths = np.bincount(owner[kept], minlength=len(paths)).astype(np.int64)
    return Paths(longer.points[kept], lengths), np.asarray(source[kept], np.intp), core[kept]


def _connected(free: NDArray[np.bool_], core: NDArray[np.bool_], paths: Paths) -> NDArray[np.bool_]:
    """Of free places only those joined to the core of their own line."""
    starts, stops = runs(free, paths)
    inner = np.concatenate([[0], np.cumsum(core)])
    kept = np.zeros(len(free), bool)
    for start, stop in zip(starts, stops, strict=True):
        if inner[stop] > inner[start]:
            kept[start:stop] = True
    return kept


def _reading(
    frame: MeasuredFrame,
    homography: Homography,
    here: OrientedPoints,
    lengths: NDArray[np.int64],
    lamp: LampPlace,
    *,
    scale: float,
) -> _Reading:
    """Ask one frame about the places that its lamp could light."""
    luminance = frame.luminance
    back: Homography = np.asarray(np.linalg.inv(homography), np.float64)
    in_frame = transform(back, here.at)
    height, width = luminance.shape
    inner = np.all(
        (in_frame >= tuning.FRAME_BORDER_PX)
        & (in_frame <= [width - 1 - tuning.FRAME_BORDER_PX, height - 1 - tuning.FRAME_BORDER_PX]),
        axis=1,
    )
    starts, stops = runs(inner & lit_by(lamp, here), Paths(here.at, lengths))
    long = stops - starts >= tuning.FEWEST_POINTS
    starts, stops = starts[long], stops[long]
    if not len(starts):
        nothing = np.empty(0, np.float32)
        return _Reading(places=np.empty(0, np.intp), um=nothing, beside=nothing, quiet_um=nothing)
    places = np.concatenate([np.arange(a, b) for a, b in zip(starts, stops, strict=True)])

    def read(points: Points) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        paths = Paths(points[:, ::-1], stops - starts)
        return equivalent_width(luminance, paths, px_per_mm=scale, done=frame.sharpening)

    um, beside = read(in_frame[places])
    um[beside > tuning.BRIGHTEST_BESIDE] = 0.0
    aside = here.at[places] + tuning.QUIET_MM * scale * here.across[places]
    quiet, _ = read(transform(back, aside))
    return _Reading(places=places, um=um, beside=beside, quiet_um=quiet)


def _scatter(readings: list[_Reading]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """How far readings scatter where there is no line, by the logarithm of the light there.

    The median of all, so that what another groove adds to a third of them counts for little.
    """
    light = np.log(np.maximum(np.concatenate([r.beside for r in readings]), tuning.DARKEST))
    quiet = np.abs(np.concatenate([r.quiet_um for r in readings]))
    if not len(light):
        return np.zeros(1), np.full(1, np.inf)
    edges = np.quantile(light, np.linspace(0, 1, tuning.BRIGHTNESS_STEPS + 1))
    level, scatter = [], []
    for low, high in pairwise(edges.tolist()):
        some = (light >= low) & (light <= high)
        level.append(float(light[some].mean()))
        scatter.append(float(np.median(quiet[some])) / MEDIAN_OF_NORMAL)
    return np.array(level), np.array(scatter)
