"""Measure one frame by itself: its lamp, its zone and every line, as in a photograph."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from defectmap.film import fusing, tuning
from defectmap.film.reading import Frame
from defectmap.panel import hotspot as light
from defectmap.panel.background import background
from defectmap.panel.marks import find_marks
from defectmap.panel.measurement import Hotspot, Mark, Sharpening
from defectmap.panel.noise import gain_shown
from defectmap.panel.photo import colour
from defectmap.panel.tuning import TYPICAL_PX_PER_MM
from defectmap.panel.zone import lit_zone

_SQUARES = (np.arange(256, dtype=np.float32) / 255) ** 2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MeasuredFrame:
    """What is kept of a frame; small, so that sixty of them are."""

    number: int
    hotspot: Hotspot
    marks: list[Mark]  # every line, of the standard or fainter
    zone: NDArray[np.uint8]  # (H // ZONE_STEP, W // ZONE_STEP) 1 where marks count
    haze: float
    sharpening: Sharpening | None
    glints: NDArray[np.uint8]  # `fusing.glints`
    roots: NDArray[np.uint8]  # (H, W) 255 times the root of the light: a byte a pixel, fine steps in the dark

    @property
    def luminance(self) -> NDArray[np.float32]:
        """(H, W) linear light 0..1, to within the steps of an 8-bit file."""
        return np.asarray(cv2.LUT(self.roots, _SQUARES), np.float32)


def measure_frame(
    frame: Frame,
    *,
    px_per_mm: float | None,
    masked: NDArray[np.bool_] | None = None,
    hotspot: Hotspot | None = None,
) -> MeasuredFrame:
    """Measure a frame of a film.

    Parameters
    ----------
    px_per_mm : float or None
        None where unknown.
    masked : (H, W) bool ndarray, optional
        About the scale card: no lamp is sought there.
    hotspot : Hotspot, optional
        Where the lamp is taken to be, so that it is not sought.

    Raises
    ------
    PhotoError
        Its lamp is not whole in view after all, or it is too dark or too bright.
    """
    luminance = colour.luminance(frame.rgb, top_code=255)
    hotspot = hotspot or light.find_hotspot(luminance, masked=masked)
    gain = gain_shown(luminance)
    back = background(luminance)
    lit = lit_zone(back, hotspot)
    found = find_marks(
        luminance, back, hotspot, lit, gain=gain, px_per_mm=px_per_mm, least_contrast=tuning.LEAST_CONTRAST
    )
    zone = found.counted
    height, width = zone.shape
    size = max(1, width // tuning.ZONE_STEP), max(1, height // tuning.ZONE_STEP)
    small = cv2.resize(zone.view(np.uint8), size, interpolation=cv2.INTER_AREA)
    return MeasuredFrame(
        number=frame.number,
        hotspot=hotspot,
        marks=[mark for mark in found.marks if float(np.median(mark.beside)) <= tuning.BRIGHTEST_BESIDE],
        zone=np.asarray(small, np.uint8),
        haze=light.haze(back, hotspot),
        sharpening=found.sharpening,
        glints=fusing.glints(luminance, back, zone),
        roots=np.round(255 * np.sqrt(np.clip(luminance, 0, 1))).astype(np.uint8),
    )


def scale_for_windows(px_per_mm: float | None) -> float:
    """Pixels a millimetre, or what a photograph typically has where that is unknown."""
    return px_per_mm or TYPICAL_PX_PER_MM
