"""Analytic photographs as shots whose marks are the phantom's visible pieces: no detector in between."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np

from defectmap.comparison.compare import Shot
from defectmap.comparison.conditions import Evidence, evidence
from defectmap.panel.measurement import Mark
from defectmap.panel.photo.photograph import load
from tests import phantom
from tests.comparison import made

REACH_MM = 40.0


def shot(
    grooves: Sequence[phantom.Groove] = (),
    *,
    panel: phantom.Panel | None = None,
    name: str = "shot.jpg",
    haze: float = 0.1,
    width_mm: float = 0.1,
    said_px_per_mm: float | None = None,
    **settings: Any,
) -> Shot:
    """Photograph grooves; the zone is a disc about the hotspot, the marks are what is visible in it."""
    taken = phantom.Shot(**{"size_px": (760, 980), "px_per_mm": 10.0, **settings})
    seen = phantom.photograph(grooves, taken, panel=panel or phantom.Panel(seed=1))
    assert seen.jpeg is not None
    photo = load(seen.jpeg, name=name)
    scale = said_px_per_mm or taken.px_per_mm
    rows, columns = np.ogrid[: taken.size_px[0], : taken.size_px[1]]
    radius = np.hypot(rows - seen.hotspot.row, columns - seen.hotspot.column)
    zone = (radius > 1.1 * seen.hotspot.radius_px) & (radius < REACH_MM * taken.px_per_mm)
    marks = []
    for piece in seen.visible:
        nearest = np.clip(np.round(piece.points).astype(int), 0, np.array(zone.shape) - 1)
        inside = zone[nearest[:, 0], nearest[:, 1]]
        if inside.sum() > 1:
            marks.append(
                Mark(
                    kind="scratch" if piece.kind == "scratch" else "swirl",
                    polarity=piece.polarity,
                    points=np.asarray(piece.points[inside], dtype=np.float64),
                    length_mm=piece.length_mm * float(inside.mean()) * taken.px_per_mm / scale,
                    width_mm=width_mm,
                    contrast=0.3,
                    contrast_to_noise=piece.cnr,
                )
            )
    measured = made.measurement(
        marks, zone, hotspot=seen.hotspot, px_per_mm=scale, facts=photo.facts, haze=haze
    )
    return Shot(photo=photo, measured=measured)


@cache
def swirled() -> tuple[phantom.Groove, ...]:
    return phantom.swirls(1, density_mm_per_cm2=60) + phantom.scratches(1, count=6)


@cache
def corrected() -> tuple[phantom.Groove, ...]:
    return phantom.polished(swirled(), seed=3, keep_share=0.3)


# the second shot of a pair, taken by hand: camera and lamp moved a little
BY_HAND: dict[str, Any] = {
    "seed": 2,
    "offset_mm": (3.0, -2.0),
    "turn_deg": 2.0,
    "lamp_mm": (-4.0, 3.0, 470.0),
}


@cache
def before() -> Shot:
    return shot(swirled(), seed=1, name="before.jpg")


@cache
def after() -> Shot:
    return shot(corrected(), name="after.jpg", **BY_HAND)


@cache
def _ground() -> Evidence:
    one = before()
    return evidence(one.photo, one.measured, cells_per_mm=4.0)


def evidence_of(*, haze: float) -> Evidence:
    """Evidence of the before photograph, as if its paint had so much haze."""
    return replace(_ground(), haze=haze)
