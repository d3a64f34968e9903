"""How two photographs differ by their camera's own settings, as far as the files tell."""

from __future__ import annotations

import math

from defectmap.panel.measurement import PhotoFacts


def exposure_step(before: PhotoFacts, after: PhotoFacts) -> float:
    """Stops from before to after by the camera's own record; NaN where it does not say.

    Exposure time times sensitivity over aperture squared; an aperture that neither file gives is taken to be
    fixed.
    """
    return light_step(before, after) + _stops(before.iso, after.iso)


def light_step(before: PhotoFacts, after: PhotoFacts) -> float:
    """The same without sensitivity: stops of light that came to the sensor."""
    step = _stops(before.exposure_s, after.exposure_s)
    if not (before.f_number is None and after.f_number is None):
        step -= 2 * _stops(before.f_number, after.f_number)
    return step


def _stops(first: float | None, second: float | None) -> float:
    if first is None or second is None or min(first, second) <= 0:
        return math.nan
    return math.log2(second / first)


def other_camera(before: PhotoFacts, after: PhotoFacts) -> bool:
    """Whether the files speak of two cameras, or of one at two settings."""
    sizes = [tuple(sorted((one.width_px, one.height_px))) for one in (before, after)]
    named = before.camera is not None and after.camera is not None
    told = [one.iso is not None for one in (before, after)]
    return sizes[0] != sizes[1] or told[0] != told[1] or (named and before.camera != after.camera)
