"""How much a picture scatters at the width of a line: its grain.

Scatter is read from the answers of the line filters themselves, brightness by brightness, away from marks (as
Sutour, Deledalle and Aujol, SIAM J. Imaging Sci. 8, 2015, read a noise level from homogeneous places; from
memory). What sensor, compression, denoising, flakes and orange peel do at the width of a line is all in it,
correlation included; the ISO that a file tells is but the shape that the reading starts from.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from defectmap.panel import tuning
from defectmap.panel.background import Background
from defectmap.panel.noise import pixel_noise


def grain_factor(
    bright: NDArray[np.float32],
    dark: NDArray[np.float32],
    back: Background,
    inside: NDArray[np.bool_],
    *,
    gain: float,
    white_quartile: float = tuning.WHITE_NOISE_QUARTILE,
) -> Background:
    """How much more, or less, the picture scatters at the scale of a mark than the sensor's model says.

    The lower quartile of the line response is compared with that on white noise. Marks cover the upper part
    of the distribution, so even a densely swirled panel moves the factor by less than a fifth.

    Parameters
    ----------
    bright, dark : (h, w) float32 ndarray
        `ridges.line_response`, possibly of a smaller copy of the photograph.
    inside : (h, w) bool ndarray
        Zone at the same size.
    gain : float
        Of the model that the answers are in units of; whatever it is, the product of factor and model is what
        the picture shows.
    white_quartile : float
        What the kernels that were used give on unit white noise.

    Returns
    -------
    Background
        Factors on the grid of `back`.
    """
    step = tuning.GRAIN_STEP_PX
    answer = 0.5 * (bright[::step, ::step] + dark[::step, ::step])
    light = back.full(inside.shape[:2])[::step, ::step]
    known = inside[::step, ::step]
    light, answer = light[known], answer[known]
    steps = np.log(np.clip(light / np.float32(tuning.GRAIN_DARKEST), 0.5, None)) * np.float32(
        tuning.GRAIN_STEPS / -np.log(tuning.GRAIN_DARKEST)
    )
    classes = np.minimum(np.floor(steps), tuning.GRAIN_STEPS - 1).astype(np.int8)
    classes[steps < 0] = -1
    at, factor = [], []
    for i in range(-1, tuning.GRAIN_STEPS):
        values = answer[classes == i]
        if len(values) >= tuning.GRAIN_LEAST_SAMPLES:
            at.append(float(np.median(light[classes == i])))
            factor.append(float(np.quantile(values, 0.25)) / white_quartile)
    blocks = np.interp(back.blocks, at, factor) if at else np.ones_like(back.blocks)
    # of the model of a good sensor, so that a wrong tag changes nothing
    floor = tuning.GRAIN_FLOOR * pixel_noise(back.blocks, gain=1.0) / pixel_noise(back.blocks, gain=gain)
    return Background(
        blocks=np.maximum(blocks, floor).astype(np.float32), block_px=back.block_px, shape=back.shape
    )
