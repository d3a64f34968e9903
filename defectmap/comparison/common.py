"""The zone that two photographs share, and their marks and areas in it by sector and ring."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from defectmap.comparison.align import Alignment
from defectmap.comparison.blocks import (
    BlockTable,
    PolarFrame,
    ZoneGround,
    block_table,
    lookup,
    ring_edges_mm,
    zone_ground,
)
from defectmap.comparison.tuning import RING_WIDTH_RADII, SECTORS
from defectmap.panel.measurement import Mark, PanelMeasurement

Sides = tuple[Sequence[Mark], Sequence[Mark]]


@dataclass(frozen=True, slots=True, kw_only=True)
class CommonTables:
    """Both photographs in the zone they share; same rings, same sectors."""

    before: BlockTable
    after: BlockTable

    @property
    def area_cm2(self) -> float:
        """Area of the shared zone: the smaller of what each sees of it, ring by ring."""
        both = np.minimum(self.before.area_cm2.sum(axis=0), self.after.area_cm2.sum(axis=0))
        return float(both.sum())


@dataclass(frozen=True, slots=True, kw_only=True)
class AlignedPair:
    """Two photographs laid on each other."""

    before: PanelMeasurement
    after: PanelMeasurement
    alignment: Alignment

    def frame_before(self) -> PolarFrame:
        """Polar frame of the before photograph; its azimuths are the pair's."""
        hotspot = self.before.hotspot
        return PolarFrame(row=hotspot.row, column=hotspot.column, px_per_mm=self.before.scale.px_per_mm)

    def frame_after(self) -> PolarFrame:
        """Polar frame of the after photograph, turned and scaled to the before photograph."""
        hotspot = self.after.hotspot
        return PolarFrame(
            row=hotspot.row,
            column=hotspot.column,
            px_per_mm=self.after.scale.px_per_mm / self.alignment.scale,
            turn_deg=self.alignment.turn_deg,
        )

    def to_after_px(self, points_px: NDArray[np.float64]) -> NDArray[np.float64]:
        """Same points of the panel in the after photograph, (N, 2) row, column."""
        about = (points_px - _centre(self.before)) / self.before.scale.px_per_mm
        return self.alignment.to_after(about) * self.after.scale.px_per_mm + _centre(self.after)

    def to_before_px(self, points_px: NDArray[np.float64]) -> NDArray[np.float64]:
        """Same points of the panel in the before photograph, (N, 2) row, column."""
        about = (points_px - _centre(self.after)) / self.after.scale.px_per_mm
        return self.alignment.to_before(about) * self.before.scale.px_per_mm + _centre(self.before)

    def counts_after(self, points_px: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Which points of the before photograph lie in the after photograph's zone."""
        return lookup(self.after.zone, self.to_after_px(points_px))

    def counts_before(self, points_px: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Which points of the after photograph lie in the before photograph's zone."""
        return lookup(self.before.zone, self.to_before_px(points_px))


def common_tables(
    overlay: AlignedPair, *, marks: Sides | None = None, grown: float = 1.0, sectors: int = SECTORS
) -> CommonTables | None:
    """Tables of both photographs in their common zone.

    Parameters
    ----------
    overlay : AlignedPair
        The pair.
    marks : tuple of two sequences of Mark, optional
        Marks before and after that count, from `line_light.at_limit`; those of the standard if not given.
    grown : float, optional
        What the length after is multiplied by, where its marks look weaker or stronger by none of the paint.
    sectors : int, optional
        How many sectors.

    Returns
    -------
    CommonTables or None
        None where the zones share nothing.
    """
    counted = marks or (overlay.before.marks, overlay.after.marks)
    frames = overlay.frame_before(), overlay.frame_after()
    grounds = (
        zone_ground(overlay.before.zone, frame=frames[0], also=overlay.counts_after),
        zone_ground(overlay.after.zone, frame=frames[1], also=overlay.counts_before),
    )
    edges = _edges_mm(overlay, grounds)
    if edges is None:
        return None
    before = block_table(
        counted[0],
        overlay.before.zone,
        frame=frames[0],
        edges_mm=edges,
        also=overlay.counts_after,
        ground=grounds[0],
        sectors=sectors,
    )
    after = block_table(
        counted[1],
        overlay.after.zone,
        frame=frames[1],
        edges_mm=edges,
        also=overlay.counts_before,
        ground=grounds[1],
        length_factor=overlay.alignment.scale * grown,
        sectors=sectors,
    )
    return CommonTables(before=before, after=after)


def _edges_mm(overlay: AlignedPair, grounds: tuple[ZoneGround, ZoneGround]) -> NDArray[np.float64] | None:
    """Rings over the distances that both photographs hold of the common zone."""
    if not all(len(ground.polar[0]) for ground in grounds):
        return None
    inner = max(float(ground.polar[0].min()) for ground in grounds)
    outer = min(float(ground.polar[0].max()) for ground in grounds)
    if not inner < outer:
        return None
    width = RING_WIDTH_RADII * overlay.before.hotspot.radius_px / overlay.before.scale.px_per_mm
    return ring_edges_mm(inner_mm=inner, outer_mm=outer, width_mm=width)


def _centre(measured: PanelMeasurement) -> NDArray[np.float64]:
    return np.array([measured.hotspot.row, measured.hotspot.column])
