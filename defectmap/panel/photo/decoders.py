"""The decoders of other people's libraries, called in this process; `apart` calls them in another.

Ordinary files go through OpenCV, the fastest decoder at hand; Pillow takes what OpenCV renders differently
(CMYK, 8-bit TIFF with palettes or odd colour spaces), pi-heif takes HEIC.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from defectmap.panel.photo.colour import STRIPE_ROWS, Pixels
from defectmap.panel.photo.fileheader import FileHeader


@dataclass(frozen=True, slots=True)
class Decoded:
    """Codes 0..`top_code`; `upright` where the decoder has applied the file's orientation already."""

    rgb: Pixels  # (H, W, 3)
    top_code: int
    upright: bool = False
    see_through: bool = False  # some part was transparent and has been put over black


def decode_with_library(data: bytes, header: FileHeader, *, shrink: int = 1) -> Decoded | None:
    """Decode the first frame; None or any exception where the library refuses the file.

    Parameters
    ----------
    header : FileHeader
        Complete, see `head`.
    shrink : int
        1, 2, 4 or 8: how much smaller a JPEG may be decoded, for a small copy; other kinds keep their size.
    """
    if header.kind == "HEIC":
        return _heif(data)
    if header.cmyk or (header.kind == "TIFF" and header.bits == 8):
        return _with_pillow(data, header)
    return with_opencv(data, header, shrink=shrink)


def decode_drawing(data: bytes, header: FileHeader, *, longest_side_px: int) -> Decoded:
    """A drawn picture (a shop's mark, a signature), made small; what is transparent is put over white."""
    import io

    from PIL import Image

    with Image.open(io.BytesIO(data), formats=[header.kind.upper()]) as opened:
        opened.draft("RGB", (longest_side_px, longest_side_px))
        shown = opened.convert("RGBA")
    shown.thumbnail((longest_side_px, longest_side_px))
    on_white = Image.new("RGB", shown.size, (255, 255, 255))
    on_white.paste(shown, mask=shown.getchannel("A"))
    return Decoded(np.array(on_white), 255, upright=True)


def complete_heif_header(data: bytes, header: FileHeader) -> None:
    """Complete a HEIC header with what the library reads without decoding; any exception if damaged."""
    from pi_heif import open_heif

    file = open_heif(data, convert_hdr_to_8bit=False)
    header.width_px, header.height_px = file.size
    header.bits = int(file.info["bit_depth"])
    header.alpha = bool(file.has_alpha)
    header.exif = (file.info.get("exif") or b"").removeprefix(b"Exif\0\0")
    header.icc = file.info.get("icc_profile") or b""
    header.frames = min(2, len(file))


def with_opencv(data: bytes, header: FileHeader, *, shrink: int = 1) -> Decoded | None:
    """Decode with OpenCV; None where it cannot."""
    import cv2

    # In OpenCV's TIFF reader the orientation cannot be switched off, so TIFF comes out upright
    flags = cv2.IMREAD_ANYDEPTH | cv2.IMREAD_IGNORE_ORIENTATION
    # and red and blue of 16 bits come out wrong unless nothing is converted (OpenCV 5.0.0)
    as_stored = header.alpha or header.kind == "TIFF"
    reduced = {2: cv2.IMREAD_REDUCED_COLOR_2, 4: cv2.IMREAD_REDUCED_COLOR_4, 8: cv2.IMREAD_REDUCED_COLOR_8}
    smaller = shrink in reduced and header.kind == "JPEG"
    if smaller:
        flags = reduced[shrink] | cv2.IMREAD_IGNORE_ORIENTATION
    else:
        flags |= cv2.IMREAD_UNCHANGED if as_stored else cv2.IMREAD_COLOR_RGB
    pixels = cv2.imdecode(np.frombuffer(data, np.uint8), flags)
    if pixels is None or pixels.dtype not in (np.uint8, np.uint16):
        return None
    top_code, upright = (255 if pixels.dtype == np.uint8 else 65535), header.kind == "TIFF"
    if header.white_is_zero:
        np.subtract(pixels.dtype.type(top_code), pixels, out=pixels)
    if not (as_stored or smaller):
        return Decoded(pixels, top_code, upright)
    if pixels.ndim == 2:
        return Decoded(cv2.cvtColor(pixels, cv2.COLOR_GRAY2RGB), top_code, upright)
    if pixels.shape[2] == 3:
        return Decoded(cv2.cvtColor(pixels, cv2.COLOR_BGR2RGB, dst=pixels), top_code, upright)
    rgb = cv2.cvtColor(pixels, cv2.COLOR_BGRA2RGB)
    return _over_black(rgb, pixels[:, :, 3], top_code, upright)


def _with_pillow(data: bytes, header: FileHeader) -> Decoded:
    import io
    import warnings

    from PIL import JpegImagePlugin, TiffImagePlugin

    # The classes are called directly: Pillow's own pixel limit is lower than ours, which has been checked
    reader = TiffImagePlugin.TiffImageFile if header.kind == "TIFF" else JpegImagePlugin.JpegImageFile
    with reader(io.BytesIO(data)) as image, warnings.catch_warnings():
        warnings.simplefilter("ignore")  # about tags that are not needed for the pixels
        image.load()
        upright = header.kind == "TIFF"  # Pillow turns a TIFF while it loads it
        if image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info:
            rgba = np.asarray(image.convert("RGBA"))
            return _over_black(np.ascontiguousarray(rgba[:, :, :3]), rgba[:, :, 3], 255, upright)
        return Decoded(np.array(image.convert("RGB")), 255, upright)


def _heif(data: bytes) -> Decoded:
    from pi_heif import open_heif

    file = open_heif(data, convert_hdr_to_8bit=False)
    pixels = np.array(file)  # a copy: the decoder's memory goes with `file`
    bits = int(file.info["bit_depth"])
    if pixels.dtype == np.uint16:  # the decoder moves 10 and 12 bits up to the top of 16
        pixels = pixels >> (16 - bits)
    if pixels.ndim == 2:
        pixels = pixels[:, :, np.newaxis]
    alpha = pixels[:, :, -1] if file.has_alpha else None
    colours = pixels[:, :, : pixels.shape[2] - file.has_alpha]
    rgb = np.ascontiguousarray(np.broadcast_to(colours, (*colours.shape[:2], 3)))
    # The container's own rotation and mirroring, which stand above EXIF, have been applied (ISO/IEC 23008-12)
    if alpha is None or file.premultiplied_alpha:
        return Decoded(rgb, 2**bits - 1, upright=True)
    return _over_black(rgb, alpha, 2**bits - 1, upright=True)


def _over_black(rgb: Pixels, alpha: Pixels, top_code: int, upright: bool) -> Decoded:
    if alpha.min() == top_code:
        return Decoded(rgb, top_code, upright)
    for first in range(0, rgb.shape[0], STRIPE_ROWS):  # in stripes, for want of memory for a whole float copy
        rows = slice(first, first + STRIPE_ROWS)
        share = alpha[rows].astype(np.float32) / top_code
        for channel in range(3):
            rgb[rows, :, channel] = np.rint(rgb[rows, :, channel] * share)
    return Decoded(rgb, top_code, upright, see_through=True)
