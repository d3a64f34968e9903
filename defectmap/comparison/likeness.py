"""How alike two small pictures of paint are, wherever they lie on each other: do they show the same place?

Both are cleared of the lamp and of broad light, and correlated over every shift by Fourier transforms
(phase correlation; Kuglin & Hines 1975, from memory). The height of the peak over the scatter of all other
shifts tells whether anything fits; it says nothing of how good either photograph is.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from defectmap.comparison.tuning import BROAD_PX, LAMP_MARGIN_PX, LAMP_SHARE, MOST_DETAIL

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Grey = NDArray[np.float32]


def structure_of(grey: Grey) -> Grey:
    """What stays on the paint when the lamp moves, evened out; (H, W) float, the lamp's place is 0."""
    import cv2
    import numpy as np

    detail = grey - cv2.GaussianBlur(grey, (0, 0), BROAD_PX)
    size = cv2.GaussianBlur(np.abs(detail), (0, 0), BROAD_PX)
    lamp = (grey >= LAMP_SHARE * grey.max()).astype(np.uint8)
    around = cv2.dilate(lamp, np.ones((2 * LAMP_MARGIN_PX + 1,) * 2, np.uint8))
    out = np.where(around > 0, 0.0, np.clip(detail / (size + 1.0), -MOST_DETAIL, MOST_DETAIL))
    rows, columns = (np.hanning(side + 2)[1:-1] for side in out.shape)
    return np.asarray(out * np.outer(rows, columns), dtype=np.float32)


def likeness(one: Grey, other: Grey) -> float:
    """Height of the correlation's peak over its scatter, for two structures.

    Parameters
    ----------
    one, other : (H, W) float ndarray
        From `structure_of`; they may differ in size.
    """
    import numpy as np

    shape = tuple(max(a, b) for a, b in zip(one.shape, other.shape, strict=True))
    product = np.fft.rfft2(one, shape) * np.conj(np.fft.rfft2(other, shape))
    # Half whitened: all of it would raise the noise of the finest detail to the rank of the paint's.
    field = np.fft.irfft2(product / np.sqrt(np.abs(product) + 1e-9), shape)
    scatter = float(field.std())
    return float(field.max()) / scatter if scatter > 0 else 0.0
