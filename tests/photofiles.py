"""Pictures and files that several tests read: a gradient whose corners tell every turn and mirror apart."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import tifffile
from PIL import Image

DATA = Path(__file__).parent / "data"
HEIGHT, WIDTH = 420, 560
ORIENTATION = 274


def gradient() -> np.ndarray:
    """Red grows to the right, green grows down, and the first corner is clipped white."""
    row, column = np.mgrid[0:HEIGHT, 0:WIDTH]
    picture = np.stack([column * 255 // (WIDTH - 1), row * 255 // (HEIGHT - 1), np.full_like(row, 60)], -1)
    picture[:100, :100] = 255
    return picture.astype(np.uint8)


def saved(picture: np.ndarray | Image.Image, kind: str, **options: Any) -> bytes:
    """The picture as a file that Pillow writes, of a copy: Pillow leaves its options behind on pictures."""
    stream = io.BytesIO()
    image = picture.copy() if isinstance(picture, Image.Image) else Image.fromarray(picture)
    if "append_images" in options:
        options["append_images"] = [other.copy() for other in options["append_images"]]
    image.save(stream, kind, **options)
    return stream.getvalue()


def tiff(picture: np.ndarray, **options: Any) -> bytes:
    """The picture as a file that tifffile writes."""
    stream = io.BytesIO()
    tifffile.imwrite(stream, picture, **options)
    return stream.getvalue()


def png16(picture: np.ndarray) -> bytes:
    """A 16-bit PNG of RGB, RGBA or grey codes, written by OpenCV."""
    if picture.ndim == 3:
        picture = picture[:, :, [2, 1, 0, *range(3, picture.shape[2])]]
    return cv2.imencode(".png", np.ascontiguousarray(picture))[1].tobytes()


def png_chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def exif_block(**tags: Any) -> bytes:
    """An EXIF block with an orientation, camera facts, and a place and a serial number to be dropped."""
    exif = Image.Exif()
    exif[ORIENTATION] = tags.pop("orientation", 1)
    exif[271], exif[272] = tags.pop("make", "Example"), tags.pop("model", "Camera One")
    facts = {
        33434: 1 / 125,
        34855: 200,
        33437: 2.8,
        37386: 26.0,
        36867: "2025:06:07 08:09:10",
        0xA431: "SN-4711",
    }
    exif.get_ifd(0x8769).update(facts | {int(key[1:]): value for key, value in tags.items()})
    exif.get_ifd(0x8825).update({1: "N", 2: (12.0, 34.0, 56.0)})
    return exif.tobytes()


def every_kind() -> dict[str, bytes]:
    """One sound file of each kind that is read."""
    picture = gradient()
    return {
        "jpeg": saved(picture, "JPEG", quality=90),
        "progressive jpeg": saved(picture, "JPEG", quality=90, progressive=True),
        "png": saved(picture, "PNG"),
        "tiff": saved(picture, "TIFF"),
        "tiff 16": tiff(picture.astype(np.uint16) * 257, photometric="rgb"),
        "webp": saved(picture, "WEBP"),
        "heic": (DATA / "plain.heic").read_bytes(),
    }
