"""How much one pixel of a photograph scatters, and the scale on which that scatter is the same everywhere.

The model is the photon transfer line of a sensor (EMVA Standard 1288 describes it): variance grows with the
number of electrons, plus a constant for reading them out. The two constants are those of a phone pixel of
about 1 µm, 6,000 electrons when full at ISO 100 and 3 electrons to read (typical values from memory, no
source at hand). It is the unit in which light is compared, not the limit: how much a picture really scatters,
after denoising, compression, flakes and peel, is read from it and stands in units of this (`panel.grain`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from defectmap.panel import tuning

_NO_PLANE = np.array([[1, -2, 1], [-2, 4, -2], [1, -2, 1]], np.float32)
_NO_PLANE /= np.linalg.norm(_NO_PLANE)  # gain 1 for white noise
MEDIAN_OF_NORMAL = 0.6745  # of its absolute value, over its standard deviation


def noise_gain(iso: float | None) -> float:
    """Amplification against ISO 100; a camera that does not tell its ISO is taken to be at ISO 100.

    See `gain_shown` for what the picture has to say.
    """
    return (iso if iso and iso > 0 else tuning.BASE_ISO) / tuning.BASE_ISO


def gain_shown(luminance: NDArray[np.float32]) -> float:
    """Amplification that the scatter of the picture itself speaks for, for files that do not tell their ISO.

    The scatter is read through a mask that no plane or straight edge answers to (Immerkaer, CVIU 64:300,
    1996), as the median of small blocks, so that marks in some of them count for nothing. Compression takes
    scatter away, so the figure is the least that it can have been: an ISO 1600 file of a phone reads as 6.

    Parameters
    ----------
    luminance : (H, W) float32 ndarray
        Linear light 0..1.

    Returns
    -------
    float
        ISO over 100, at least 1.
    """
    import cv2

    side = tuning.NOISE_BLOCK_PX
    height, width = (length // side for length in luminance.shape)
    gains = []
    for band in range(0, height, max(1, height // tuning.NOISE_BANDS)):
        rows = luminance[band * side : (band + 1) * side, : width * side]
        left = np.abs(cv2.filter2D(rows, -1, _NO_PLANE))
        blocks = left.reshape(side, width, side).transpose(1, 0, 2).reshape(width, -1)
        scatter = np.median(blocks, axis=1) / MEDIAN_OF_NORMAL
        light = rows.reshape(side, width, side).mean(axis=(0, 2))
        usable = (light > tuning.SHADOW) & (light < tuning.HIGHLIGHT)
        gains.append(_gain_of(scatter[usable], light[usable]))
    found = np.concatenate(gains) if gains else np.empty(0)
    return max(1.0, float(np.median(found))) if len(found) else 1.0


def _gain_of(scatter: NDArray[np.float32], light: NDArray[np.float32]) -> NDArray[np.float64]:
    """Gain at which `pixel_noise` of that light is the scatter."""
    read, slope = (
        (tuning.READ_NOISE_E / tuning.FULL_WELL_E) ** 2,
        light.astype(np.float64) / tuning.FULL_WELL_E,
    )
    return np.asarray((np.sqrt(slope**2 + 4 * read * scatter.astype(np.float64) ** 2) - slope) / (2 * read))


def pixel_noise(luminance: NDArray[np.float32], *, gain: float) -> NDArray[np.float32]:
    """Standard deviation of one pixel at a given light.

    Parameters
    ----------
    luminance : float32 ndarray
        Linear light, 1 where the sensor is full at this gain.
    gain : float
        ISO over 100, see `noise_gain`.

    Returns
    -------
    float32 ndarray
        Same shape, same unit.

    Examples
    --------
    >>> round(float(pixel_noise(np.float32(0.5), gain=1.0)), 5)
    0.00914
    """
    electrons = np.maximum(luminance, np.float32(0)) * np.float32(gain / tuning.FULL_WELL_E)
    variance = electrons + np.float32((tuning.READ_NOISE_E * gain / tuning.FULL_WELL_E) ** 2)
    return np.asarray(np.sqrt(variance), dtype=np.float32)


def stabilise(luminance: NDArray[np.float32], *, gain: float) -> NDArray[np.float32]:
    """Map light to a scale on which `pixel_noise` is 1 everywhere.

    The integral of 1 / noise (Anscombe's idea, Biometrika 35:246, 1948, for Poisson counts with a read-out
    term). It is fixed by the ISO alone, so a difference on this scale means the same in every photograph.

    Parameters
    ----------
    luminance : (H, W) float32 ndarray
        Linear light 0..1.
    gain : float
        ISO over 100.

    Returns
    -------
    (H, W) float32 ndarray
    """
    import cv2

    slope = gain / tuning.FULL_WELL_E
    read = (tuning.READ_NOISE_E * gain / tuning.FULL_WELL_E) ** 2
    # 2/slope * sqrt(slope*I + read), written as one sqrt to stay in fast code
    scaled = cv2.addWeighted(luminance, 4.0 / slope, luminance, 0.0, 4.0 * read / slope**2)
    return np.asarray(cv2.sqrt(scaled), dtype=np.float32)
