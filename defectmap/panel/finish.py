"""Densities and the finish score: one place for every weight."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from defectmap.panel import tuning
from defectmap.panel.measurement import Density, Hotspot, Mark, RingDensity, SpotDefect


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelFigures:
    """What follows from the marks, the spots and the zone they count in."""

    area_cm2: float
    density: Density
    rings: tuple[RingDensity, ...]
    longest_scratch_mm: float
    score: float


def panel_figures(
    marks: Sequence[Mark],
    spots: Sequence[SpotDefect],
    zone: NDArray[np.bool_],
    hotspot: Hotspot,
    *,
    haze: float,
    px_per_mm: float,
) -> PanelFigures:
    """Every figure of a panel that is not read from the photograph itself.

    Dust does not count against the finish: it wipes off. Water spots do.
    """
    area_cm2 = np.count_nonzero(zone) / px_per_mm**2 / 100
    density = densities(marks, area_cm2=area_cm2)
    longest = max((m.length_mm for m in marks if m.kind == "scratch"), default=0.0)
    water_spots = sum(s.kind == "water spot" for s in spots)
    return PanelFigures(
        area_cm2=area_cm2,
        density=density,
        rings=ring_densities(marks, zone, hotspot, px_per_mm=px_per_mm),
        longest_scratch_mm=longest,
        score=finish_score(
            density,
            longest_scratch_mm=longest,
            haze=haze,
            spots_per_cm2=water_spots / area_cm2 if area_cm2 > 0 else 0.0,
        ),
    )


def densities(marks: Sequence[Mark], *, area_cm2: float) -> Density:
    """Length of marks of each kind per area, with what neighbours hide, in mm/cm²; 0 where there is no area.

    Examples
    --------
    >>> densities([], area_cm2=10.0).all
    0.0
    """

    def of(kind: str) -> float:
        if not area_cm2 > 0:
            return 0.0
        return sum(m.length_mm * m.stands_for for m in marks if m.kind == kind) / area_cm2

    return Density(swirl=of("swirl"), scratch=of("scratch"), trail=of("trail"))


def ring_densities(
    marks: Sequence[Mark], zone: NDArray[np.bool_], hotspot: Hotspot, *, px_per_mm: float
) -> tuple[RingDensity, ...]:
    """Density at each distance from the hotspot, in rings of 5 mm (100 px where the scale is unknown)."""
    ring_px = tuning.DENSITY_RING_MM * px_per_mm if px_per_mm != 1.0 else 100.0
    step = 4  # area from every fourth pixel each way
    thinned = zone[::step, ::step]
    rows, columns = (np.arange(n, dtype=np.float32) * step for n in thinned.shape)
    away = np.hypot(rows[:, None] - np.float32(hotspot.row), columns - np.float32(hotspot.column))
    area = np.bincount((away / np.float32(ring_px)).astype(np.int16)[thinned]) * step**2 / px_per_mm**2 / 100
    length = np.zeros(len(area) + 1)
    for mark in marks:
        steps = np.hypot(*np.diff(mark.points, axis=0).T) / px_per_mm * mark.stands_for
        middles = 0.5 * (mark.points[1:] + mark.points[:-1])
        which = np.hypot(middles[:, 0] - hotspot.row, middles[:, 1] - hotspot.column) / ring_px
        length += np.bincount(np.minimum(which.astype(int), len(area)), steps, len(length))
    return tuple(
        RingDensity(
            inner_mm=i * ring_px / px_per_mm,
            outer_mm=(i + 1) * ring_px / px_per_mm,
            area_cm2=float(area[i]),
            length_mm=float(length[i]),
        )
        for i in range(len(area))
        if area[i] > 0
    )


def finish_score(density: Density, *, longest_scratch_mm: float, haze: float, spots_per_cm2: float) -> float:
    """Finish of the panel from 0 to 100.

    score = 100 / (1 + swirl/12 + trail/12 + scratch/3 + longest/60 + spots)

    with densities in mm/cm², the longest scratch in mm, and spots per cm². It falls with every input but
    haze, and is 100 only where nothing was found above the detection limit. Haze is reported beside it and
    not inside: its zero depends on the lamp, so a perfect panel would never score 100. The weights are a
    choice, not a standard (common practice, no source): 12 mm/cm² of swirl marks, or 3 of scratches, halve a
    perfect score.

    Parameters
    ----------
    longest_scratch_mm, haze, spots_per_cm2 : float
        All at least 0.

    Examples
    --------
    >>> half = Density(swirl=12.0, scratch=0.0, trail=0.0)
    >>> finish_score(half, longest_scratch_mm=0, haze=0, spots_per_cm2=0)
    50.0
    """
    burden = (
        (density.swirl + density.trail) / tuning.SWIRL_HALF
        + density.scratch / tuning.SCRATCH_HALF
        + longest_scratch_mm / tuning.LONGEST_HALF_MM
        + spots_per_cm2 / tuning.SPOT_HALF_PER_CM2
    )
    return 100.0 / (1.0 + burden)
