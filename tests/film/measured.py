"""Film measurements of fields of lines, made without a picture: every frame shows what its lamp lights."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from defectmap.film.assembling import FilmMeasurement, assemble
from defectmap.film.framing import MeasuredFrame
from defectmap.film.looking import FilmLook
from defectmap.film.reading import Series
from defectmap.film.registering import Registered
from defectmap.film.scaling import FilmScale
from defectmap.panel.measurement import Hotspot, Mark, PhotoFacts, Scale
from tests.film.fields import SHAPE, lit, seen_by

RADIUS_PX = 90.0
PX_PER_MM = 10.0
DARK = np.zeros(SHAPE, np.uint8)


def sweep(phase: float, *, frames: int = 30) -> list[tuple[float, float]]:
    """Lamp places to and fro over the picture."""
    along = np.linspace(0.03, 0.97, frames)
    return [(1280 * float(a), 360 + 260 * float(np.sin(18 * a + phase))) for a in along]


def measured_frame(number: int, lamp: tuple[float, float], *, marks: list[Mark]) -> MeasuredFrame:
    """A frame without a picture."""
    return MeasuredFrame(
        number=number,
        hotspot=Hotspot(row=lamp[1], column=lamp[0], radius_px=RADIUS_PX, lamps=1),
        marks=marks,
        zone=np.ones((SHAPE[0] // 4, SHAPE[1] // 4), np.uint8),
        haze=0.1,
        sharpening=None,
        glints=DARK,
        roots=DARK,
    )


def measured(lines: NDArray[np.float64], *, phase: float = 0.0, name: str = "before") -> FilmMeasurement:
    """A film of a field of lines."""
    frames = [
        measured_frame(
            number,
            (x, y),
            marks=seen_by(np.eye(3), lit(lines, (x, y), along_px=1.5 * RADIUS_PX), seed=number),
        )
        for number, (x, y) in enumerate(sweep(phase))
    ]
    count = len(frames)
    return assemble(
        Series(paths=(), facts=PhotoFacts(name=name, sha256=name, width_px=SHAPE[1], height_px=SHAPE[0])),
        FilmLook(frames=[], seen=count, static_share=0.0),
        Registered(
            frames=frames, to_map=[np.eye(3)] * count, sure_px=[0.3] * count, aside_px=0.1, left_out={}
        ),
        scale=FilmScale(scale=Scale(px_per_mm=PX_PER_MM, source="typed")),
        left_out={},
    )
