"""A measurement made by hand, for tests of what is done with measurements."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np

from defectmap.panel.measurement import (
    Density,
    DetectionLimit,
    Hotspot,
    Mark,
    MarkKind,
    PanelMeasurement,
    PhotoFacts,
    RingDensity,
    Scale,
    SpotDefect,
)
from defectmap.words.remark import Remark


def straight_mark(
    kind: MarkKind, start: tuple[float, float], stop: tuple[float, float], *, px_per_mm: float = 10.0
) -> Mark:
    """A straight mark between two (row, column) points, 2 px wide."""
    length_px = float(np.hypot(stop[0] - start[0], stop[1] - start[1]))
    return Mark(
        kind=kind,
        polarity="bright",
        points=np.linspace(start, stop, 25),
        length_mm=length_px / px_per_mm,
        width_mm=2.0 / px_per_mm,
        contrast=0.4,
        contrast_to_noise=6.0,
        equivalent_width_um=150.0,
        um=np.full(25, 150.0, np.float32),
        beside=np.full(25, 0.02, np.float32),
    )


def panel_measurement(**changes: Any) -> PanelMeasurement:
    """A swirl mark of 20 mm and a scratch of 30 mm in a zone of 300 x 400 px at 10 px/mm, less its border."""
    zone = np.zeros((300, 400), np.bool_)
    zone[50:250, 50:350] = True
    area_cm2 = 200 * 300 / 10.0**2 / 100
    plain = PanelMeasurement(
        photo=PhotoFacts(name="door.jpg", sha256="ab" * 32, width_px=400, height_px=300),
        scale=Scale(px_per_mm=10.0, source="typed"),
        hotspot=Hotspot(row=120.0, column=210.0, radius_px=15.0, lamps=1),
        zone=zone,
        area_cm2=area_cm2,
        marks=(
            straight_mark("swirl", (80.0, 70.0), (80.0, 270.0)),
            straight_mark("scratch", (220.0, 40.0), (220.0, 340.0)),
        ),
        spots=(SpotDefect(kind="dust", row=60.0, column=60.0, diameter_mm=0.4),),
        density=Density(swirl=20.0 / area_cm2, scratch=30.0 / area_cm2, trail=0.0),
        rings=(RingDensity(inner_mm=2.0, outer_mm=7.0, area_cm2=1.4, length_mm=20.0),),
        longest_scratch_mm=30.0,
        haze=0.07,
        score=62.5,
        detection_limit=DetectionLimit(
            contrast_to_noise=3.0, length_mm=1.0, contrast=0.03, equivalent_width_um=40.0
        ),
        warnings=(Remark(code="off-centre"),),
    )
    return dataclasses.replace(plain, **changes)
