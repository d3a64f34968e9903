"""Length of marks and area of zone by sector and ring about the hotspot, and densities at matched radius.

Visible density falls with distance from the hotspot, so two photographs are compared ring by ring: each ring
weighs
the same on both sides, whatever area of it each photograph holds. Sectors are the blocks of the bootstrap.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from defectmap.comparison.tuning import SECTORS, ZONE_POINTS
from defectmap.panel.measurement import Mark, MarkKind

KINDS: tuple[MarkKind, ...] = ("swirl", "scratch", "trail")


@dataclass(frozen=True, slots=True, kw_only=True)
class PolarFrame:
    """Polar coordinates about a hotspot: where radius 0 is, how long a mm is, and where azimuth 0 points."""

    row: float
    column: float
    px_per_mm: float
    turn_deg: float = 0.0  # added to the azimuth, so that both photographs of a pair number the same sectors

    def polar(self, points: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Radius in mm and azimuth in turns (0 to 1) of (N, 2) row, column points."""
        down = (points[:, 0] - self.row) / self.px_per_mm
        right = (points[:, 1] - self.column) / self.px_per_mm
        turns = np.arctan2(down, right) / (2 * math.pi) + self.turn_deg / 360
        azimuth: NDArray[np.float64] = turns % 1.0
        return np.hypot(down, right), azimuth


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneGround:
    """Points all over a zone, each standing for the same area."""

    polar: tuple[NDArray[np.float64], NDArray[np.float64]]  # radius in mm, azimuth in turns
    point_cm2: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Steps:
    """All the steps of all marks that lie in the zone."""

    middles: NDArray[np.float64]  # (N, 2) row, column, px
    length_mm: NDArray[np.float64]
    owner: NDArray[np.intp]  # number of the mark


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockTable:
    """What one photograph holds in each sector of each ring."""

    area_cm2: NDArray[np.float64]  # (S, R)
    length_mm: NDArray[np.float64]  # (kinds, S, R), kinds in the order of KINDS
    pieces_mm: NDArray[np.float64]  # length of each mark inside, all kinds

    def length_of(self, kind: MarkKind | None) -> NDArray[np.float64]:
        """(S, R) length of one kind, or of all for None."""
        chosen = slice(None) if kind is None else slice(KINDS.index(kind), KINDS.index(kind) + 1)
        return np.asarray(self.length_mm[chosen].sum(axis=0))


def ring_edges_mm(*, inner_mm: float, outer_mm: float, width_mm: float) -> NDArray[np.float64]:
    """Edges of rings of about `width_mm` from `inner_mm` to `outer_mm`.

    Parameters
    ----------
    inner_mm, outer_mm : float
        Radii where the common zone begins and ends; inner below outer.
    width_mm : float
        Wanted width; the rings are all alike and the last ends at `outer_mm`.

    Returns
    -------
    (R + 1,) float64 ndarray
        Edges, mm.

    Examples
    --------
    >>> ring_edges_mm(inner_mm=8.0, outer_mm=20.0, width_mm=4.1).tolist()
    [8.0, 12.0, 16.0, 20.0]
    """
    if not (0 <= inner_mm < outer_mm and width_mm > 0):
        raise ValueError(f"rings need 0 <= inner < outer and a width, got {inner_mm}, {outer_mm}, {width_mm}")
    count = max(1, round((outer_mm - inner_mm) / width_mm))
    return np.linspace(inner_mm, outer_mm, count + 1)


def block_table(
    marks: Sequence[Mark],
    zone: NDArray[np.bool_],
    *,
    frame: PolarFrame,
    edges_mm: NDArray[np.float64],
    also: Callable[[NDArray[np.float64]], NDArray[np.bool_]] | None = None,
    ground: ZoneGround | None = None,
    length_factor: float = 1.0,
    sectors: int = SECTORS,
) -> BlockTable:
    """Sort the length of marks and the area of the zone into sectors and rings.

    Parameters
    ----------
    marks : sequence of Mark
        Their points are row, column in px; pieces outside the zone do not count.
    zone : (H, W) bool ndarray
        Where marks count in this photograph.
    frame : PolarFrame
        Hotspot, scale and azimuth of this photograph.
    edges_mm : (R + 1,) float64 ndarray
        Ring edges.
    also : callable, optional
        Given (N, 2) points in px, says which of them count in the other photograph too.
    ground : ZoneGround, optional
        The zone's points, where they are known already.
    length_factor : float, optional
        What each mark's length is multiplied by, where the scale was found to be a little off.
    sectors : int, optional
        How many sectors.
    """
    shape = len(KINDS), sectors, len(edges_mm) - 1
    ground = ground or zone_ground(zone, frame=frame, also=also)
    cells, held = _cells(ground.polar, edges_mm, sectors)
    area = _summed(cells[held], ground.point_cm2, shape[1:])
    length, pieces = np.zeros(shape), np.zeros(0)
    if marks:
        steps = _steps(marks, zone, also)
        cells, held = _cells(frame.polar(steps.middles), edges_mm, sectors)
        owner, weights = steps.owner[held], steps.length_mm[held] * length_factor
        stands = np.array([mark.stands_for for mark in marks])[owner]
        kinds = np.array([KINDS.index(mark.kind) for mark in marks])[owner]
        length = _summed(kinds * area.size + cells[held], weights * stands, shape)
        pieces = _summed(owner, weights, (len(marks),))
    return BlockTable(area_cm2=area, length_mm=length, pieces_mm=pieces[pieces > 0])


def zone_ground(
    zone: NDArray[np.bool_],
    *,
    frame: PolarFrame,
    also: Callable[[NDArray[np.float64]], NDArray[np.bool_]] | None = None,
) -> ZoneGround:
    """Points of the zone on a grid; `also` as for `block_table`.

    A coarse grid is fine enough for an area and spares most pixels.
    """
    step = max(1, round(max(zone.shape) / ZONE_POINTS))
    offset = (step - 1) // 2
    points = np.argwhere(zone[offset::step, offset::step]).astype(np.float64) * step + offset
    if also is not None:
        points = points[also(points)]
    return ZoneGround(polar=frame.polar(points), point_cm2=(step / frame.px_per_mm) ** 2 / 100)


def ring_weights(before: BlockTable, after: BlockTable) -> NDArray[np.float64]:
    """Weight of each ring in both densities; the same on both sides, and knowing nothing of the marks.

    The smaller of the two areas: an equivalent width does not change with exposure, so no ring is the better.

    Parameters
    ----------
    before, after : BlockTable
        Tables with the same rings.

    Returns
    -------
    (R,) float64 ndarray
        Adds up to 1.

    Raises
    ------
    ValueError
        The two have no ring in common.
    """
    shared = np.minimum(before.area_cm2.sum(axis=0), after.area_cm2.sum(axis=0))
    if shared.sum() <= 0:
        raise ValueError("the two photographs have no ring in common")
    return np.asarray(shared / shared.sum())


def weighted_density(
    length_mm: NDArray[np.float64], area_cm2: NDArray[np.float64], *, weights: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Density in mm/cm² as the weighted mean over rings; a ring without area lends its weight to the others.

    Parameters
    ----------
    length_mm, area_cm2 : (..., R) float64 ndarray
        Sums over sectors.
    weights : (R,) float64 ndarray
        From `ring_weights`.

    Returns
    -------
    (...) float64 ndarray
        mm/cm².
    """
    held = area_cm2 > 0
    per_ring = np.where(held, length_mm / np.where(held, area_cm2, 1.0), 0.0)
    weight = np.where(held, weights, 0.0)
    return np.asarray((per_ring * weight).sum(axis=-1) / weight.sum(axis=-1))


def _steps(
    marks: Sequence[Mark],
    zone: NDArray[np.bool_],
    also: Callable[[NDArray[np.float64]], NDArray[np.bool_]] | None,
) -> _Steps:
    found = [_pieces(mark) for mark in marks]
    middles = np.concatenate([middle for middle, _ in found])
    length = np.concatenate([share * mark.length_mm for (_, share), mark in zip(found, marks, strict=True)])
    owner = np.repeat(np.arange(len(marks)), [len(middle) for middle, _ in found])
    inside = lookup(zone, middles)
    if also is not None:
        inside[inside] = also(middles[inside])
    return _Steps(middles=middles[inside], length_mm=length[inside], owner=owner[inside])


def _pieces(mark: Mark) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Middle of each step along a mark and the share of its length that the step carries."""
    steps = np.linalg.norm(np.diff(mark.points, axis=0), axis=1)
    if steps.sum() == 0:
        return mark.points[:1], np.ones(1)
    return (mark.points[1:] + mark.points[:-1]) / 2, steps / steps.sum()


def lookup(mask: NDArray[np.bool_], points: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Whether each row, column point lies on a true pixel; False outside the picture."""
    row, column = np.round(points).astype(np.intp).T
    inside = (row >= 0) & (column >= 0) & (row < mask.shape[0]) & (column < mask.shape[1])
    found = np.zeros(len(points), dtype=np.bool_)
    found[inside] = mask[row[inside], column[inside]]
    return found


def _cells(
    polar: tuple[NDArray[np.float64], NDArray[np.float64]], edges_mm: NDArray[np.float64], sectors: int
) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
    """Number of each point's cell, sector by sector, and which points lie in a ring (the last is closed)."""
    radius, turns = polar
    rings = len(edges_mm) - 1
    ring = np.searchsorted(edges_mm, radius, side="right") - 1
    ring[radius == edges_mm[-1]] = rings - 1
    sector = np.minimum((turns * sectors).astype(np.intp), sectors - 1)
    return sector * rings + ring, (ring >= 0) & (ring < rings)


def _summed(
    cells: NDArray[np.intp], weights: NDArray[np.float64] | float, shape: tuple[int, ...]
) -> NDArray[np.float64]:
    """Sum of the weights in each cell; cells are numbered as a flattened array of `shape`."""
    sums = np.bincount(cells, np.broadcast_to(weights, cells.shape), math.prod(shape))
    return np.asarray(sums, dtype=np.float64).reshape(shape)
