"""Decode a picture to red, green and blue codes, not yet turned upright.

Ordinary files go through OpenCV, the fastest decoder at hand; Pillow takes what OpenCV renders differently
(CMYK, 8-bit TIFF with palettes or odd colour spaces), pi-heif takes HEIC.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from defectmap.errors import PhotoSizeError, UnreadablePhoto
from defectmap.panel.photo.colour import Pixels
from defectmap.panel.photo.fileheader import FileHeader, truncated

_FILL_CODE = 128  # what the JPEG decoder paints where its data ran out (libjpeg: zero coefficients)
_FILL_BLOCK = 8


@dataclass(frozen=True, slots=True)
class Decoded:
    """Codes 0..`top_code`; `upright` where the decoder has applied the file's orientation already."""

    rgb: Pixels  # (H, W, 3)
    top_code: int
    upright: bool = False
    see_through: bool = False  # some part was transparent and has been put over black


def decode(data: bytes, header: FileHeader, name: str) -> Decoded:
    """Decode the first frame of a file whose header has been read and found sound.

    Transparent parts are put over black: no light came from there, so no mark can be counted there.

    Raises
    ------
    UnreadablePhoto
        The decoder refuses the file, or filled the end of a JPEG itself because its data ran out.
    PhotoSizeError
        The memory of this computer does not hold the decoded picture.
    """
    try:
        if header.kind == "HEIC":
            decoded: Decoded | None = _heif(data)
        elif header.cmyk or (header.kind == "TIFF" and header.bits == 8):
            decoded = _with_pillow(data, header)
        else:
            decoded = _with_opencv(data, header)
    except MemoryError as error:
        raise PhotoSizeError(f"{name} does not fit in memory; close other programs or shrink it.") from error
    except UnreadablePhoto:
        raise
    except Exception as error:  # each decoder raises its own kinds for damaged files
        raise _damaged(name, header) from error
    if decoded is None:
        raise _damaged(name, header)
    if header.kind == "JPEG" and _decoder_ran_dry(decoded.rgb, data, header):
        raise truncated(name)
    return decoded


def _damaged(name: str, header: FileHeader) -> UnreadablePhoto:
    return UnreadablePhoto(f"{name} is a damaged {header.kind} file; copy it again or save it anew as JPEG.")


def _with_opencv(data: bytes, header: FileHeader) -> Decoded | None:
    import cv2

    # In OpenCV's TIFF reader the orientation cannot be switched off, so TIFF comes out upright
    flags = cv2.IMREAD_ANYDEPTH | cv2.IMREAD_IGNORE_ORIENTATION
    # and red and blue of 16 bits come out wrong unless nothing is converted (OpenCV 5.0.0)
    as_stored = header.alpha or header.kind == "TIFF"
    flags |= cv2.IMREAD_UNCHANGED if as_stored else cv2.IMREAD_COLOR_RGB
    pixels = cv2.imdecode(np.frombuffer(data, np.uint8), flags)
    if pixels is None or pixels.dtype not in (np.uint8, np.uint16):
        return None
    top_code, upright = (255 if pixels.dtype == np.uint8 else 65535), header.kind == "TIFF"
    if header.white_is_zero:
        pixels = top_code - pixels
    if not as_stored:
        return Decoded(pixels, top_code, upright)
    if pixels.ndim == 2:
        return Decoded(cv2.cvtColor(pixels, cv2.COLOR_GRAY2RGB), top_code, upright)
    if pixels.shape[2] == 3:
        return Decoded(cv2.cvtColor(pixels, cv2.COLOR_BGR2RGB), top_code, upright)
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


def heif_header(data: bytes, header: FileHeader, name: str) -> None:
    """Complete a HEIC header with what the decoder reads without decoding."""
    try:
        from pi_heif import open_heif

        file = open_heif(data, convert_hdr_to_8bit=False)
        header.width_px, header.height_px = file.size
        header.bits = int(file.info["bit_depth"])
        header.exif = (file.info.get("exif") or b"").removeprefix(b"Exif\0\0")
        header.icc = file.info.get("icc_profile") or b""
        header.frames = min(2, len(file))
    except Exception as error:  # the decoder raises many kinds for damaged files
        raise _damaged(name, header) from error


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
    share = alpha.astype(np.float32) / top_code
    for channel in range(3):
        rgb[:, :, channel] = np.rint(rgb[:, :, channel] * share)
    return Decoded(rgb, top_code, upright, see_through=True)


def _decoder_ran_dry(rgb: Pixels, data: bytes, header: FileHeader) -> bool:
    """Whether a JPEG ends properly but holds too little data, so that the decoder filled the rest with grey.

    A last block of exact mid grey is the suspicion. The proof: more data put before the end marker changes
    the picture only if the decoder was still asking for some.
    """
    corner = rgb[-_FILL_BLOCK:, -_FILL_BLOCK:]
    if not (corner == _FILL_CODE).all():
        return False
    end = data.rfind(b"\xff\xd9")
    more = np.random.default_rng(0).integers(1, 255, 65536, dtype=np.uint8).tobytes()
    again = _with_opencv(data[:end] + more + data[end:], header) if not header.cmyk else None
    return again is not None and not np.array_equal(again.rgb, rgb)
