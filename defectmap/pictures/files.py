"""Pictures as the bytes of a file."""

from __future__ import annotations

import io
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray


def picture_file(pixels: NDArray[np.uint8], kind: Literal["PNG", "JPEG"], **how: Any) -> bytes:
    """A picture as a file; what is not in the pixels (place, time, camera) is not in the file.

    Parameters
    ----------
    pixels : (H, W) or (H, W, 3) uint8 ndarray
        Grey or RGB.
    how : optional
        What Pillow's writer of that kind takes, such as `quality`.
    """
    from PIL import Image

    out = io.BytesIO()
    Image.fromarray(pixels).save(out, format=kind, **how)
    return out.getvalue()
