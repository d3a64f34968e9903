"""Panels made of straight grooves, and what a photograph of them would measure, without drawing a picture.

A groove shows where it runs within 25 degrees of the tangent about the hotspot, out to a distance that grows
with its
strength: the plain reading of glint geometry (Bosch et al. 2004). Only the tests use this.
"""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from defectmap.panel.measurement import (
    Density,
    DetectionLimit,
    Hotspot,
    Mark,
    PanelMeasurement,
    PhotoFacts,
    Scale,
)

SIZE_PX = (900, 1200)
PX_PER_MM = 10.0
CORE_MM, REACH_MM = 8.0, 40.0


@dataclass(frozen=True)
class Panel:
    """Grooves in mm about the middle of the panel, (down, right)."""

    middles: NDArray[np.float64]
    angles: NDArray[np.float64]
    lengths: NDArray[np.float64]
    strengths: NDArray[np.float64]

    def keep(self, chosen: NDArray[np.bool_]) -> Panel:
        return Panel(self.middles[chosen], self.angles[chosen], self.lengths[chosen], self.strengths[chosen])

    def __add__(self, other: Panel) -> Panel:
        return Panel(
            *(np.concatenate(pair) for pair in zip(vars(self).values(), vars(other).values(), strict=True))
        )


def panel(seed: int, grooves: int) -> Panel:
    rng = np.random.default_rng(seed)
    return Panel(
        rng.uniform(-1, 1, (grooves, 2)) * [60, 70],
        rng.uniform(0, math.pi, grooves),
        rng.lognormal(math.log(14), 0.6, grooves),
        rng.lognormal(0, 0.5, grooves),
    )


def thinned(whole: Panel, share: float, seed: int) -> Panel:
    return whole.keep(np.random.default_rng(seed).random(len(whole.lengths)) < share)


def photograph(
    paint: Panel,
    *,
    hotspot_mm: tuple[float, float] = (0.0, 0.0),
    centre_mm: tuple[float, float] = (0.0, 0.0),
    turn_deg: float = 0.0,
    px_per_mm: float = PX_PER_MM,
    said_px_per_mm: float | None = None,
    radius_mm: float = 6.0,
    name: str = "shot.jpg",
    taken: str | None = None,
    missed: float = 0.0,
    seed: int = 0,
) -> PanelMeasurement:
    """Measure `paint`, the lamp's reflection at `hotspot_mm`, the camera over `centre_mm` (down, right)."""
    rng = np.random.default_rng(seed)
    angle = math.radians(turn_deg)
    turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    middle = np.array([(SIZE_PX[0] - 1) / 2, (SIZE_PX[1] - 1) / 2])

    def to_px(points: NDArray[np.float64]) -> NDArray[np.float64]:
        result: NDArray[np.float64] = (points - centre_mm) @ turn.T * px_per_mm + middle
        return result

    spot = to_px(np.array([hotspot_mm]))[0]
    rows, columns = np.ogrid[: SIZE_PX[0], : SIZE_PX[1]]
    radius = np.hypot(rows - spot[0], columns - spot[1]) / px_per_mm
    zone = (radius >= CORE_MM) & (radius < REACH_MM)
    marks = []
    for piece in _visible(paint, np.array(hotspot_mm)):
        if rng.random() < missed:
            continue
        points = to_px(piece)
        inside = (points >= 0).all(axis=1) & (points < SIZE_PX).all(axis=1)
        if inside.sum() > 2:
            marks.append(mark(points[inside], px_per_mm=said_px_per_mm or px_per_mm))
    return measurement(
        marks,
        zone,
        hotspot=Hotspot(row=spot[0], column=spot[1], radius_px=radius_mm * px_per_mm, lamps=1),
        px_per_mm=said_px_per_mm or px_per_mm,
        facts=PhotoFacts(
            name=name,
            sha256=hashlib.sha256(f"{name} {seed}".encode()).hexdigest(),
            width_px=SIZE_PX[1],
            height_px=SIZE_PX[0],
            taken=taken,
        ),
    )


def _visible(paint: Panel, hotspot: NDArray[np.float64]) -> list[NDArray[np.float64]]:
    """Pieces of at least 1 mm that glint, (N, 2) points every half millimetre."""
    pieces = []
    for middle, angle, length, strength in zip(
        paint.middles, paint.angles, paint.lengths, paint.strengths, strict=True
    ):
        along = np.arange(-length / 2, length / 2, 0.5)
        direction = np.array([math.sin(angle), math.cos(angle)])
        points = middle + along[:, None] * direction
        out = points - hotspot
        radius = np.hypot(*out.T)
        slant = np.abs(out @ direction) / np.maximum(
            radius, 1e-9
        )  # 0 where the groove runs along the tangent
        seen = (slant < math.sin(math.radians(25))) & (radius < 18 * strength) & (radius < REACH_MM)
        seen &= radius >= CORE_MM
        ends = np.flatnonzero(np.diff(np.concatenate([[0], seen.astype(int), [0]])))
        pieces += [points[a:b] for a, b in zip(ends[::2], ends[1::2], strict=True) if b - a > 2]
    return pieces


def mark(points: NDArray[np.float64], *, px_per_mm: float = PX_PER_MM, kind: str = "swirl") -> Mark:
    length = float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum()) / px_per_mm
    return Mark(
        kind=kind,  # type: ignore[arg-type]
        polarity="bright",
        points=points,
        length_mm=length,
        width_mm=0.1,
        contrast=0.5,
        contrast_to_noise=20.0,
    )


def measurement(
    marks: list[Mark],
    zone: NDArray[np.bool_],
    *,
    hotspot: Hotspot,
    px_per_mm: float,
    facts: PhotoFacts,
    haze: float = 0.1,
) -> PanelMeasurement:
    area = zone.sum() / px_per_mm**2 / 100
    total = sum(found.length_mm for found in marks)
    return PanelMeasurement(
        photo=facts,
        scale=Scale(px_per_mm=px_per_mm, source="typed"),
        hotspot=hotspot,
        zone=zone,
        area_cm2=float(area),
        marks=tuple(marks),
        spots=(),
        density=Density(swirl=total / area, scratch=0.0, trail=0.0),
        rings=(),
        longest_scratch_mm=0.0,
        haze=haze,
        score=80.0,
        detection_limit=DetectionLimit(contrast_to_noise=5.0, length_mm=1.5, contrast=0.1),
    )


def with_facts(measured: PanelMeasurement, **facts: object) -> PanelMeasurement:
    return replace(measured, photo=replace(measured.photo, **facts))  # type: ignore[arg-type]
