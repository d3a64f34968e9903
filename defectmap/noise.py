"""How much one pixel of a photograph scatters, and the scale on which that scatter is the same everywhere.

The model is the photon transfer line of a sensor (EMVA Standard 1288 describes it): variance grows with the
number of electrons, plus a constant for reading them out. The two constants are those of a phone pixel of
about 1 µm, 6,000 electrons when full at ISO 100 and 3 electrons to read (typical values from memory, no
source at hand). Files that were denoised or compressed show less scatter than this, but what they took away
the marks lost as well; so the model is a floor under the noise and never an estimate from the picture.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FULL_WELL_E = 6000.0
READ_NOISE_E = 3.0
BASE_ISO = 100.0


def noise_gain(iso: float | None) -> float:
    """Amplification against ISO 100; a camera that does not tell its ISO is taken to be at ISO 100."""
    return (iso if iso and iso > 0 else BASE_ISO) / BASE_ISO


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
    electrons = np.maximum(luminance, np.float32(0)) * np.float32(gain / FULL_WELL_E)
    variance = electrons + np.float32((READ_NOISE_E * gain / FULL_WELL_E) ** 2)
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

    slope = gain / FULL_WELL_E
    read = (READ_NOISE_E * gain / FULL_WELL_E) ** 2
    # 2/slope * sqrt(slope*I + read), written as one sqrt to stay in fast code
    scaled = cv2.addWeighted(luminance, 4.0 / slope, luminance, 0.0, 4.0 * read / slope**2)
    return np.asarray(cv2.sqrt(scaled), dtype=np.float32)
