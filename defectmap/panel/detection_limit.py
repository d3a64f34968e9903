"""The faintest mark that shows: place by place, and for a photograph as a whole."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from defectmap.panel import tuning
from defectmap.panel.background import Background
from defectmap.panel.measurement import DetectionLimit
from defectmap.panel.noise import pixel_noise


def faintest_um(back: Background, grain: Background, *, gain: float, px_per_mm: float) -> Background:
    """Equivalent width that a mark must have to show along 1 mm, at each place.

    Parameters
    ----------
    back : Background
        Light without marks.
    grain : Background
        See `grain.grain_factor`.
    gain : float
        That the factor was read with.

    Returns
    -------
    Background
        In µm, on the grid of `back`.
    """
    beside = np.maximum(back.blocks, np.float32(tuning.DARKEST_BESIDE))
    peak = np.float32(tuning.SEEN_FROM) * grain.blocks * pixel_noise(back.blocks, gain=gain)
    um = (peak / beside * np.float32(1000 * tuning.LINE_AREA_PX / px_per_mm)).astype(np.float32)
    return Background(blocks=um, block_px=back.block_px, shape=back.shape)


def noise_seen(back: Background, grain: Background, *, gain: float) -> NDArray[np.float32]:
    """(h, w) noise of one pixel as the picture shows it, in linear light; arguments as for `faintest_um`."""
    return np.asarray(grain.blocks * pixel_noise(back.blocks, gain=gain), np.float32)


def detection_limit(
    back: Background,
    noise: NDArray[np.float32],
    faintest: Background,
    zone: NDArray[np.bool_],
    *,
    length: float,
) -> DetectionLimit:
    """Medians over the zone, or over the picture where no place is good enough.

    Parameters
    ----------
    back : Background
        Light without marks.
    noise : (h, w) float32 ndarray
        What `noise_seen` gives.
    faintest : Background
        What `faintest_um` gives.
    zone : (H, W) bool ndarray
        Where marks count.
    length : float
        Of the shortest mark, in mm where the scale is known, else in px.
    """
    inside = back.of_blocks(zone)
    where = inside if inside.any() else np.ones_like(inside)
    return DetectionLimit(
        contrast_to_noise=tuning.SEEN_FROM,
        length_mm=length,
        contrast=tuning.SEEN_FROM
        * float(np.median((noise / np.maximum(back.blocks, tuning.DARKEST_AROUND))[where])),
        equivalent_width_um=float(np.median(faintest.blocks[where])),
    )
