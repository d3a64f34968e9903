"""Lines that are no marks: lips of panel gaps, tape and trim, and bright lines that no groove could be."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from defectmap.panel import tuning
from defectmap.panel.contrast import LineLight
from defectmap.panel.hotspot import Halo
from defectmap.panel.measurement import Hotspot
from defectmap.panel.paths import (
    Path,
    Paths,
    extend,
    medians,
    normals,
    paint,
    polyline_length_px,
    radii_px,
    unit,
)


def edge_bands(
    lines: Sequence[tuple[Path, LineLight]],
    halo: Halo,
    hotspot: Hotspot,
    *,
    scale: float,
    shape: tuple[int, ...],
) -> NDArray[np.bool_] | None:
    """Strips along lines whose two sides differ, and along long straight partners beside them.

    Parameters
    ----------
    lines : sequence of (path, evidence)
        Every line found.
    halo : (distance_px, light)
        See `light.halo_profile`.
    scale : float
        Pixels a millimetre.
    shape : (int, int)
        Of the photograph.

    Returns
    -------
    (H, W) bool ndarray or None
        None where no line is an edge.
    """
    straight = radii_px(Paths.of([path for path, _ in lines])) >= tuning.EDGE_RADIUS_MM * scale
    long_lines = [
        (path, evidence)
        for (path, evidence), runs_on in zip(lines, straight.tolist(), strict=True)
        if runs_on and len(path) >= tuning.EDGE_LENGTH_MM * scale
    ]
    differ = _sides_differ(long_lines, halo, hotspot).tolist()
    sure = [path for (path, _), edge in zip(long_lines, differ, strict=True) if edge]
    long_edges = [p for p in sure if polyline_length_px(p) >= tuning.LONG_EDGE_MM * scale]
    partners = [
        path
        for path, _ in long_lines
        if polyline_length_px(path) >= tuning.LONG_EDGE_MM * scale
        and any(_run_together(path, edge, scale) for edge in long_edges)
    ]
    if not sure:
        return None
    mask = np.zeros(shape, np.uint8)
    for path in sure + partners:
        beyond = round(len(path) / 2) if polyline_length_px(path) >= tuning.LONG_EDGE_MM * scale else 1
        longer = extend(Paths.of([path]), by_px=beyond, lever_px=len(path))
        paint(mask, longer.points, width_px=max(3, round(2 * tuning.EDGE_BAND_MM * scale)))
    return mask > 0


def _sides_differ(lines: Sequence[tuple[Path, LineLight]], halo: Halo, hotspot: Hotspot) -> NDArray[np.bool_]:
    """(P,) whether the light on the two sides of each line differs by more than the halo explains."""
    if not lines:
        return np.zeros(0, bool)
    distance, light = halo
    known = np.isfinite(light)
    paths, profile = Paths.of([path for path, _ in lines]), np.concatenate([one.profile for _, one in lines])
    across = normals(paths)
    logs = []
    for side, span in ((-1, slice(0, tuning.EDGE_SIDE_PX)), (1, slice(-tuning.EDGE_SIDE_PX, None))):
        there = paths.points + side * (tuning.HALF_PROFILE_PX - tuning.EDGE_SIDE_PX / 2) * across
        away = np.hypot(there[:, 0] - hotspot.row, there[:, 1] - hotspot.column)
        expected = np.interp(away, distance[known], light[known])
        # the darkest along the profile: beside a mark a bundle of others may run, beside a gap nothing does
        seen = profile[:, span].min(1)
        logs.append(np.log(seen + tuning.DARKEST_BESIDE) - np.log(expected + tuning.DARKEST_BESIDE))
    return np.asarray(np.abs(medians(logs[0] - logs[1], paths.lengths)) > tuning.EDGE_LOG_STEP)


def _run_together(one: Path, other: Path, scale: float) -> bool:
    """Whether two lines are parallel and side by side, as the lips of a gap are."""
    first, second = one[-1] - one[0], other[-1] - other[0]
    turn = abs(first[0] * second[1] - first[1] * second[0]) / (np.hypot(*first) * np.hypot(*second))
    aside = abs(np.array([-second[1], second[0]]) @ (one.mean(0) - other[0])) / np.hypot(*second)
    return bool(turn < np.sin(np.deg2rad(tuning.PARTNER_DEG)) and aside < tuning.PARTNER_MM * scale)


def can_glint(off_deg: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Whether bright lines run across the direction of a lamp, as lit grooves must.

    A groove's walls lean across it, so it sends light to the camera only where that direction points at the
    lamp's image: lit grooves run round a lamp, never straight at it (DESIGN; Bosch et al. 2004, Raymond et
    al. 2016). Up to 46 degrees off the tangent were seen on path-traced panels; 65 leaves room for curved
    paint.

    Parameters
    ----------
    off_deg : (P,) float64 ndarray
        See `off_tangent_deg`.
    """
    return np.asarray(off_deg < tuning.RADIAL_DEG)


def off_tangent_deg(paths: Paths, lamps: Sequence[Hotspot]) -> NDArray[np.float64]:
    """Median angle between each line and the circle round the lamp it fits best, 0 to 90 degrees.

    Parameters
    ----------
    lamps : sequence of Hotspot
        Every light reflected in the photograph; with none, the answer is 90.

    Returns
    -------
    (P,) float64 ndarray
    """
    best = np.full(len(paths), 90.0)
    across = normals(paths)
    for lamp in lamps:
        away = unit(paths.points - (lamp.row, lamp.column))
        # the normal lies in the lamp's direction where the line runs round the lamp
        off = np.rad2deg(np.arccos(np.clip(np.abs((across * away).sum(1)), 0, 1)))
        medians = [float(np.partition(o, len(o) // 2)[len(o) // 2]) for o in paths.split(off)]
        best = np.minimum(best, medians)
    return best


def round_share(off_deg: NDArray[np.float64], lengths: NDArray[np.float64]) -> float | None:
    """Share of the length of bright lines that has the direction of lit marks, near the tangent.

    On path-traced panels it is more than nine tenths; directions at random put half of it there.

    Parameters
    ----------
    off_deg : (P,) float64 ndarray
        See `off_tangent_deg`.
    lengths : (P,) float64 ndarray
        Of the lines, in any unit.

    Returns
    -------
    float or None
        None for few lines, which decide nothing.
    """
    if len(lengths) < tuning.FEW_LINES:
        return None
    return float(lengths[off_deg < tuning.NEAR_TANGENT_DEG].sum() / lengths.sum())


def crowds(
    paths: Paths, off_deg: NDArray[np.float64], *, scale: float, shape: tuple[int, ...]
) -> NDArray[np.bool_] | None:
    """Where bright lines crowd that no lamp here could light: grain of trim, rubber or cloth.

    Parameters
    ----------
    paths : Paths
        Bright lines.
    off_deg : (P,) float64 ndarray
        See `off_tangent_deg`.
    scale : float
        Pixels a millimetre.
    shape : (int, int)
        Of the photograph.

    Returns
    -------
    (H, W) bool ndarray or None
        None where there is no such place.
    """
    import cv2

    cell = max(1, round(tuning.CROWD_CELL_MM * scale))
    size = (shape[0] // cell + 1, shape[1] // cell + 1)
    astray = (off_deg > tuning.NEAR_TANGENT_DEG)[paths.owner]
    place = np.ravel_multi_index(
        tuple(np.clip((paths.points / cell).astype(int), 0, np.array(size) - 1).T), size
    )
    grids = [
        np.bincount(place, weights=weights, minlength=size[0] * size[1]).reshape(size)
        for weights in (astray.astype(float), np.ones(len(place)))
    ]
    # points are about one pixel apart, so that their number is a length
    stray, every = (
        cv2.boxFilter(grid, -1, (3, 3), normalize=False, borderType=cv2.BORDER_CONSTANT) for grid in grids
    )
    least = tuning.CROWD_MM_PER_CM2 * (3 * cell / scale) ** 2 / 100 * scale
    crowded = ((stray >= least) & (stray >= tuning.CROWD_SHARE * every)).astype(np.uint8)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(crowded)
    large = [i for i in range(1, count) if stats[i, cv2.CC_STAT_AREA] >= tuning.CROWD_CELLS]
    if not large:
        return None
    crowded = np.isin(labels, large).astype(np.uint8)
    wide = np.repeat(np.repeat(cv2.dilate(crowded, np.ones((3, 3), np.uint8)), cell, 0), cell, 1)
    return wide[: shape[0], : shape[1]] > 0
