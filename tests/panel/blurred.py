"""Photographs for the tests of focus and cautions: rendered, then blurred as a lens blurs."""

from __future__ import annotations

import cv2
import numpy as np

from tests.phantom import Panel, Shot, photograph, swirls
from tests.rendered import file_of

SHOT = Shot(size_px=(900, 1200), px_per_mm=20.0)


def seen(
    *, blur_px: float = 0.0, density: float = 60.0, panel: Panel | None = None, shot: Shot = SHOT
) -> bytes:
    grooves = swirls(3, density_mm_per_cm2=density) if density else []
    rgb = photograph(grooves, shot, panel=panel).rgb
    if blur_px:
        soft = np.asarray(cv2.GaussianBlur(rgb, (0, 0), blur_px))
        noise = np.random.default_rng(1).normal(0, 1.5, rgb.shape)  # a sensor's noise comes after the lens
        rgb = np.clip(soft + noise, 0, 255).astype(np.uint8)
    return file_of(rgb)
