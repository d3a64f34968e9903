"""Where marks count: set by light and noise alone, so that clean and swirled paint get the same zone."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from defectmap.panel.hotspot import Background
from defectmap.panel.measurement import Hotspot
from defectmap.panel.noise import pixel_noise

BRIGHTEST_SURROUND = 0.55  # linear light; above, a bright mark has no room to stand out
LIMIT_CONTRAST_TO_NOISE = 3.0
_BORDER_PX = 6
_CORE_MARGIN_PX = 7


def reference_contrast(distance_px: NDArray[np.float32], hotspot: Hotspot) -> NDArray[np.float32]:
    """Linear-light contrast of the reference mark at each distance.

    As bright as full scale at the hotspot's rim, then falling with the square of the distance.
    """
    return np.minimum((hotspot.radius_px / np.maximum(distance_px, 1.0)) ** 2, 1.0).astype(np.float32)


def lit_zone(
    back: Background, hotspot: Hotspot, *, gain: float, masked: NDArray[np.bool_] | None = None
) -> NDArray[np.bool_]:
    """Where this light and this noise would show the reference mark.

    Parameters
    ----------
    back : Background
        Light without marks.
    hotspot : Hotspot
    gain : float
        See `noise.noise_gain`.
    masked : (H, W) bool ndarray, optional
        Never part of the zone: scale card, panel gaps, tape.

    Returns
    -------
    (H, W) bool ndarray
    """
    distance = back.distance_px(hotspot)
    seen = reference_contrast(distance, hotspot) - LIMIT_CONTRAST_TO_NOISE * pixel_noise(
        back.blocks, gain=gain
    )
    margin = distance - np.float32(hotspot.radius_px + _CORE_MARGIN_PX)
    room = np.float32(BRIGHTEST_SURROUND) - back.blocks
    # interpolated as one signed quantity in shares of full scale, so that the outline does not follow the
    # blocks
    share = np.minimum(np.minimum(seen, room), margin / np.float32(hotspot.radius_px))
    full = cv2.resize(share, (back.shape[1], back.shape[0]), interpolation=cv2.INTER_LINEAR)
    inside: NDArray[np.bool_] = np.greater(full, 0)
    inside[:_BORDER_PX] = inside[-_BORDER_PX:] = False
    inside[:, :_BORDER_PX] = inside[:, -_BORDER_PX:] = False
    if masked is not None:
        inside &= ~masked
    return inside


_DARKEST, _STEPS = 0.002, 18  # brightness classes: below, and even steps of its logarithm up to full scale
_LEAST_SAMPLES = 300
# lower quartile of the mean of both answers of `ridges.line_response` on unit white noise
WHITE_NOISE_QUARTILE = 0.415
WHITE_NOISE_QUARTILE_NARROW = 0.70  # with `ridges.narrow_bank`


def texture_factor(
    bright: NDArray[np.float32],
    dark: NDArray[np.float32],
    back: Background,
    inside: NDArray[np.bool_],
    *,
    white_quartile: float = WHITE_NOISE_QUARTILE,
) -> Background:
    """How much more the paint ripples at the scale of a mark than one pixel's noise would, by brightness.

    The lower quartile of the line response is compared with that on white noise. Marks cover the upper part
    of the distribution, so even a densely swirled panel moves the factor by less than a fifth.

    Parameters
    ----------
    bright, dark : (h, w) float32 ndarray
        `ridges.line_response`, possibly of a smaller copy of the photograph.
    back : Background
    inside : (h, w) bool ndarray
        Zone at the same size.
    white_quartile : float
        What the kernels that were used give on unit white noise.

    Returns
    -------
    Background
        Factors of at least 1, on the grid of `back`.
    """
    step = 4
    answer = 0.5 * (bright[::step, ::step] + dark[::step, ::step])
    light = back.full(inside.shape[:2])[::step, ::step]
    known = inside[::step, ::step]
    light, answer = light[known], answer[known]
    steps = np.log(np.clip(light / np.float32(_DARKEST), 0.5, None)) * np.float32(_STEPS / -np.log(_DARKEST))
    classes = np.minimum(np.floor(steps), _STEPS - 1).astype(np.int8)
    classes[steps < 0] = -1
    at, factor = [], []
    for i in range(-1, _STEPS):
        values = answer[classes == i]
        if len(values) >= _LEAST_SAMPLES:
            at.append(float(np.median(light[classes == i])))
            factor.append(float(np.quantile(values, 0.25)) / white_quartile)
    blocks = np.interp(back.blocks, at, factor) if at else np.ones_like(back.blocks)
    return Background(
        blocks=np.maximum(blocks, 1.0).astype(np.float32), block_px=back.block_px, shape=back.shape
    )
