"""One picture of all lamp places: at each point the brightest glint of any frame, the halo divided out."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from defectmap.film import tuning
from defectmap.film.homography import Homography
from defectmap.panel.background import Background


def glints(luminance: NDArray[np.float32], back: Background, zone: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """How far each pixel stands above the light around it, as codes; 0 outside the zone.

    (L − B) / (B + floor): the floor keeps the noise of dark paint from shining. Coded by an inverse
    hyperbolic sine, so that faint glints and strong ones fit eight bits.

    Returns
    -------
    (h, w) uint8 ndarray
        No wider than `tuning.FUSED_WIDTH_PX`.
    """
    beside = back.full()
    above = luminance - beside
    np.divide(above, beside + np.float32(tuning.GLINT_FLOOR), out=above)
    above[~zone] = 0.0
    small = cv2.resize(above, _fused_size(above.shape), interpolation=cv2.INTER_AREA)
    coded = tuning.GLINT_CODES * np.arcsinh(np.maximum(small, 0) / tuning.GLINT_BEND)
    return np.minimum(coded, 255).astype(np.uint8)


def _fused_size(shape: tuple[int, ...]) -> tuple[int, int]:
    factor = min(1.0, tuning.FUSED_WIDTH_PX / max(shape[:2]))
    return max(1, round(shape[1] * factor)), max(1, round(shape[0] * factor))


def fuse(
    frames: Sequence[NDArray[np.uint8]], to_map: Sequence[Homography], shape: tuple[int, int]
) -> NDArray[np.uint8]:
    """The brightest glint of all frames at each place of the map.

    Parameters
    ----------
    frames : sequence of (h, w) uint8 ndarray
        From `glints`.
    to_map : sequence of (3, 3) float64 ndarray
        In pixels of whole frames.
    shape : (int, int)
        Rows and columns of a whole frame.

    Returns
    -------
    (h, w) uint8 ndarray
    """
    width, height = _fused_size(shape)
    step = shape[1] / width
    # the middle of the first small pixel lies (step - 1) / 2 into the whole frame
    grow = np.array([[step, 0, (step - 1) / 2], [0, step, (step - 1) / 2], [0, 0, 1.0]])
    fused = np.zeros((height, width), np.uint8)
    for picture, homography in zip(frames, to_map, strict=True):
        small = np.linalg.inv(grow) @ homography @ grow
        cv2.max(fused, cv2.warpPerspective(picture, small, (width, height)), dst=fused)
    return fused
