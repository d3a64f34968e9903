"""From the codes of a file to linear light: sRGB transfer function, luminance, clipping, colour profiles."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from functools import lru_cache
from typing import Any, Literal, TypeVar

import numpy as np
from numpy.typing import NDArray

Profile = Literal["none", "sRGB", "Display P3", "other"]
_Real = TypeVar("_Real", np.float32, np.float64)
Pixels = NDArray[Any]  # uint8 or uint16; OpenCV's own types do not tell which

# Luminance of the three primaries: IEC 61966-2-1 (ITU-R BT.709) and SMPTE EG 432-1 with a D65 white
WEIGHTS = {"sRGB": (0.2126, 0.7152, 0.0722), "Display P3": (0.2290, 0.6917, 0.0793)}
# Red and green colorants as an ICC profile stores them (adapted to D50)
_COLORANTS = {
    "sRGB": (0.4361, 0.2225, 0.0139, 0.3851, 0.7169, 0.0971),
    "Display P3": (0.5151, 0.2412, -0.0011, 0.2920, 0.6922, 0.0419),
}
_COLORANT_TOLERANCE = 0.003  # published profiles differ in the last digits; P3 and sRGB differ by 0.08
_MID_CODE, _MID_LIGHT, _MID_TOLERANCE = 0.5, 0.2140411, 0.01  # sRGB decode of 0.5; a gamma of 1.8 gives 0.287
STRIPE_ROWS = 128  # a stripe of 4000 px in float32 stays in the cache: measured fastest of 16..3000 rows


@lru_cache(maxsize=4)
def linear_table(top_code: int) -> NDArray[np.float32]:
    """Linear light of each code 0..`top_code`, by the sRGB transfer function (IEC 61966-2-1).

    Returns
    -------
    (top_code + 1,) float32 ndarray
        0 at code 0, 1 at `top_code`; read-only, because it is shared.

    Examples
    --------
    >>> round(float(linear_table(255)[128]), 6)
    0.215861
    """
    table = to_light(np.arange(top_code + 1) / top_code).astype(np.float32)
    table.setflags(write=False)
    return table


def to_light(codes: NDArray[_Real]) -> NDArray[_Real]:
    """Linear light of sRGB codes 0..1 (IEC 61966-2-1).

    Examples
    --------
    >>> round(float(to_light(np.array([0.5]))[0]), 7)
    0.2140411
    """
    power = (np.maximum(codes + 0.055, 0) / 1.055) ** 2.4
    return np.asarray(np.where(codes <= 0.04045, codes / 12.92, power), codes.dtype)


def to_codes(light: NDArray[_Real]) -> NDArray[_Real]:
    """sRGB codes 0..1 of linear light (IEC 61966-2-1): `to_light` the other way."""
    power = 1.055 * np.maximum(light, 1e-9) ** (1 / 2.4) - 0.055
    return np.asarray(np.where(light <= 0.0031308, 12.92 * light, power), light.dtype)


def luminance(
    rgb: Pixels, *, top_code: int, weights: tuple[float, float, float] = WEIGHTS["sRGB"]
) -> NDArray[np.float32]:
    """Linear luminance of a coded picture.

    Works in stripes, so that the three linear channels never exist whole (144 MB for 12 megapixels).

    Parameters
    ----------
    rgb : (H, W, 3) uint8 or uint16 ndarray
        Red, green, blue codes 0..`top_code`.
    top_code : int
        The code of full light: 255, 1023, 65535.
    weights : tuple of 3 float
        Share of red, green and blue in luminance; they add up to 1.

    Returns
    -------
    (H, W) float32 ndarray
        0..1.
    """
    import cv2

    from defectmap.panel.threads import in_pairs

    light = np.empty(rgb.shape[:2], np.float32)
    table, row = linear_table(top_code), np.array([weights], np.float32)

    def fill(rows: slice) -> None:
        # one table for the three channels and a row of weights: a third faster than a weighted table each
        linear = cv2.LUT(rgb[rows], table) if rgb.dtype == np.uint8 else table[rgb[rows]]
        cv2.transform(linear, row, dst=light[rows])

    in_pairs(fill, _stripes(rgb))
    return light


def clipped(rgb: Pixels, *, top_code: int) -> NDArray[np.bool_]:
    """Where any channel stands at the top code, so that the light there has no known value.

    Returns
    -------
    (H, W) bool ndarray
    """
    import cv2

    at_top = np.empty(rgb.shape[:2], np.bool_)
    below = (top_code - 1,) * 3
    for rows in _stripes(rgb):
        np.equal(cv2.inRange(rgb[rows], (0, 0, 0), below), 0, out=at_top[rows])
    return at_top


def _stripes(picture: Pixels) -> Iterator[slice]:
    return (slice(first, first + STRIPE_ROWS) for first in range(0, picture.shape[0], STRIPE_ROWS))


def identify_profile(icc: bytes) -> Profile:
    """Tell which colour space an embedded ICC profile describes, by its colorants and tone curve.

    sRGB and Display P3 share one transfer function and differ in primaries only, so both can be brought to
    luminance exactly; anything else is "other".

    Pillow's ImageCms was tried: it tells a profile's name, which may be anything, and its colorants, but not
    its tone curve, and it hands a stranger's bytes to a C library in this process.
    """
    if not icc:
        return "none"
    try:
        tags = _icc_tags(icc)
        colorants = (*_xyz(tags[b"rXYZ"]), *_xyz(tags[b"gXYZ"]))
        mid = _curve_at_mid(tags[b"gTRC"])
    except (struct.error, KeyError, IndexError, OverflowError, ZeroDivisionError):
        return "other"
    if abs(mid - _MID_LIGHT) > _MID_TOLERANCE:
        return "other"
    for name in ("sRGB", "Display P3"):
        if np.allclose(colorants, _COLORANTS[name], rtol=0, atol=_COLORANT_TOLERANCE):
            return "sRGB" if name == "sRGB" else "Display P3"
    return "other"


def _icc_tags(icc: bytes) -> dict[bytes, bytes]:
    (count,) = struct.unpack_from(">I", icc, 128)
    entries = (struct.unpack_from(">4sII", icc, 132 + 12 * k) for k in range(min(count, 100)))
    return {sign: icc[offset : offset + size] for sign, offset, size in entries}


def _xyz(tag: bytes) -> tuple[float, float, float]:
    x, y, z = struct.unpack_from(">iii", tag, 8)
    return x / 65536, y / 65536, z / 65536


def _curve_at_mid(tag: bytes) -> float:
    """Light of code 0.5 (ICC.1:2022, 10.6 curveType and 10.18 parametricCurveType)."""
    if tag[:4] == b"curv":
        (count,) = struct.unpack_from(">I", tag, 8)
        if count == 0:
            return _MID_CODE
        if count == 1:
            return float(_MID_CODE ** (struct.unpack_from(">H", tag, 12)[0] / 256))
        values = struct.unpack_from(f">{count}H", tag, 12)
        return float(np.interp(_MID_CODE, np.linspace(0, 1, count), np.array(values) / 65535))
    (kind,) = struct.unpack_from(">H", tag, 8)
    if kind == 0:
        return float(_MID_CODE ** (struct.unpack_from(">i", tag, 12)[0] / 65536))
    gamma, slope, shift = (v / 65536 for v in struct.unpack_from(">3i", tag, 12))
    return float((slope * _MID_CODE + shift) ** gamma)
