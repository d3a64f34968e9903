"""The camera: blur, glare, noise, clipping, the sRGB curve, and the JPEG file."""

from __future__ import annotations

import io
import math
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.phantom.strokes import SPLINE_VARIANCE

Floats = NDArray[np.floating[Any]]
Image = NDArray[np.float32]

SHOT_NOISE = 0.0135  # SD at saturation, ISO 100, in units of saturation
READ_NOISE = 5e-4
LUMA = (0.2126, 0.7152, 0.0722)  # ITU-R BT.709, the primaries of sRGB
MIN_BLUR_PX = math.sqrt(SPLINE_VARIANCE - 1 / 12)  # the drawing weights alone blur that much
_CODES = 1 << 16
_GLARE_CELL_PX = 16
_ISO_TAG, _TIME_TAG, _TAKEN_TAG, _EXIF_IFD = 0x8827, 0x829A, 0x9003, 0x8769


def noise_sd(light: Floats, iso: float) -> Floats:
    """Expected noise of one pixel, in linear units of saturation, for noise-free linear light (any shape)."""
    level = np.clip(light, 0, 1)
    return np.sqrt(SHOT_NOISE**2 * level * iso / 100 + READ_NOISE**2)


def srgb_encode(linear: Floats) -> NDArray[np.float64]:
    """Linear light 0..1 to sRGB 0..1 (IEC 61966-2-1), any shape."""
    x = np.asarray(linear, np.float64)
    return np.where(x <= 0.0031308, 12.92 * x, 1.055 * np.maximum(x, 0.0031308) ** (1 / 2.4) - 0.055)


@lru_cache(maxsize=1)
def _code_table() -> NDArray[np.uint8]:
    return np.rint(srgb_encode(np.arange(_CODES) / (_CODES - 1)) * 255).astype(np.uint8)


def encode_8bit(linear: Floats) -> NDArray[np.uint8]:
    """Linear light to 8-bit sRGB codes, clipped to 0..1, any shape."""
    index = np.clip(linear, 0, 1) * np.float32(_CODES - 1) + np.float32(0.5)
    return _code_table()[index.astype(np.uint16)]


def blurred(image: Image, blur_px: float) -> Image:
    """Blur (H, W) or (H, W, 3) light on the pixel grid by what the drawing weights have not blurred yet."""
    import cv2

    kernel = finishing_kernel(blur_px)
    out = cv2.sepFilter2D(image, cv2.CV_32F, kernel, kernel, borderType=cv2.BORDER_REPLICATE)
    return np.asarray(out, np.float32)


@lru_cache(maxsize=32)
def finishing_kernel(blur_px: float) -> NDArray[np.float64]:
    """Kernel (2 R + 1,) that turns the drawing weights into a Gaussian blur averaged over the pixel.

    A sampled Gaussian will not do: this narrow, it folds over at the Nyquist frequency, and a line is up to
    10 % too bright where it meets pixel centres. So the kernel is the least-squares answer over all positions
    of a point between two pixels, with a sum of one.
    """
    from scipy.special import ndtr

    reach = math.ceil(4 * blur_px) + 1
    place = np.arange(-reach - 2, reach + 3)
    shift = np.linspace(-0.5, 0.5, 41)
    away = place[None, :] - shift[:, None]
    target = ndtr((away + 0.5) / blur_px) - ndtr((away - 0.5) / blur_px)
    columns = [_spline_at(away)]
    for k in range(1, reach + 1):
        columns.append(_spline_at(away - k) + _spline_at(away + k))
    design = np.stack([c.ravel() for c in columns], axis=1)
    sums = np.array([[1.0] + [2.0] * reach])
    # A heavy row keeps the sum at one.
    half, *_ = np.linalg.lstsq(np.vstack([design, 1e4 * sums]), np.append(target.ravel(), 1e4), rcond=None)
    kernel: NDArray[np.float64] = np.concatenate([half[:0:-1], half])
    kernel /= kernel.sum()
    return kernel


def _spline_at(x: Floats) -> Floats:
    """Quadratic B-spline."""
    near = np.abs(x)
    return np.where(near < 0.5, 0.75 - near**2, np.where(near < 1.5, 0.5 * (1.5 - near) ** 2, 0.0))


def veil(light: Image, glare: float) -> Image:
    """Veiling light: a share `glare` of all light, spread by a Gaussian of a quarter of the diagonal."""
    import cv2

    height, width = light.shape
    small = cv2.resize(
        light,
        (max(1, width // _GLARE_CELL_PX), max(1, height // _GLARE_CELL_PX)),
        interpolation=cv2.INTER_AREA,
    )
    sd = math.hypot(height, width) / 4 / _GLARE_CELL_PX
    spread = cv2.GaussianBlur(small, (0, 0), sd, borderType=cv2.BORDER_CONSTANT)
    wide = np.asarray(cv2.resize(spread, (width, height), interpolation=cv2.INTER_LINEAR), np.float32)
    return wide * np.float32(glare)


def sharpened(rgb: NDArray[np.uint8], amount: float) -> NDArray[np.uint8]:
    """Unsharp mask of 1 px on the encoded picture (H, W, 3), clipped to codes; 0 changes nothing."""
    import cv2

    if amount == 0:
        return rgb
    soft = cv2.GaussianBlur(rgb, (0, 0), 1.0)
    return np.asarray(cv2.addWeighted(rgb, 1 + amount, soft, -amount, 0), np.uint8)


def jpeg_bytes(
    rgb: NDArray[np.uint8], quality: int, *, iso: float, exposure_s: float, taken: str | None
) -> bytes:
    """A JPEG file with EXIF sensitivity and exposure time.

    `taken` (``YYYY:MM:DD HH:MM:SS``) is written where given.
    """
    from PIL import Image as Pil

    exif = Pil.Exif()
    facts = exif.get_ifd(_EXIF_IFD)
    facts[_ISO_TAG] = round(iso)
    facts[_TIME_TAG] = exposure_s
    if taken is not None:
        facts[_TAKEN_TAG] = taken
    out = io.BytesIO()
    Pil.fromarray(rgb).save(out, "JPEG", quality=quality, exif=exif)
    return out.getvalue()
