"""Read a photograph: upright pixels, linear luminance, what the file says of itself, or a refusal.

Geometry is (row, column) of the upright picture; every orientation the file carries is applied exactly once.
"""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from defectmap.errors import UnreadablePhoto
from defectmap.panel.measurement import PhotoFacts
from defectmap.panel.photo import colour, pixels
from defectmap.panel.photo.exif import ExifFacts
from defectmap.panel.photo.fileheader import FileHeader
from defectmap.panel.photo.head import MAX_MEGAPIXELS, check_large, check_size, read_file, read_head
from defectmap.words.remark import Remark

DRAWN = ("PNG", "JPEG", "WebP")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Photo:
    """An upright photograph, ready to be measured."""

    facts: PhotoFacts
    luminance: NDArray[np.float32]  # (H, W), linear light 0..1
    rgb: NDArray[np.uint8]  # (H, W, 3), for drawing; in the file's own colour space
    focal_px: float | None = None  # focal length in pixels of the picture, where EXIF tells it
    warnings: tuple[Remark, ...] = field(default=())  # see `words.photo_words`

    @property
    def clipped(self) -> NDArray[np.bool_]:
        """(H, W) where any channel stands at full, so that the light there has no known value."""
        return colour.clipped(self.rgb, top_code=255)


def load(
    source: str | Path | bytes, *, name: str | None = None, max_megapixels: float = MAX_MEGAPIXELS
) -> Photo:
    """Read a JPEG, PNG, TIFF, HEIC or WebP photograph.

    Parameters
    ----------
    source : str, Path or bytes
        File name, or the bytes of a file.
    name : str, optional
        What to call it in results and refusals; the file's name if not given.
    max_megapixels : float
        More pixels than this are refused from the header, before anything is decoded.

    Returns
    -------
    Photo
        12 megapixels of 8 bits take 84 MB: luminance 48, rgb 36.

    Raises
    ------
    UnreadablePhoto
        No file, not a picture, a raw file, damaged or truncated.
    PhotoSizeError
        Too few pixels, or too many; see `head.check_size`.
    """
    data, name = read_file(source, name=name)
    header, exif = read_head(data, name)
    check_size(header, name, max_megapixels=max_megapixels)
    decoded = pixels.decode(data, header, name)
    upright = decoded.rgb if decoded.upright else turn_upright(decoded.rgb, exif.orientation)
    profile = colour.identify_profile(header.icc)
    weights = colour.WEIGHTS["Display P3" if profile == "Display P3" else "sRGB"]
    return Photo(
        facts=_facts(header, exif, upright.shape, hashlib.sha256(data).hexdigest(), name),
        luminance=colour.luminance(upright, top_code=decoded.top_code, weights=weights),
        rgb=_eight_bit(upright, decoded.top_code),
        focal_px=_focal_px(exif, upright.shape),
        warnings=_warnings(header, exif, profile, see_through=decoded.see_through),
    )


def small_copy(source: str | Path | bytes, *, longest_side_px: int) -> colour.Pixels:
    """A small upright copy of a photograph, for a page; through the same door as `load`.

    Returns
    -------
    (H, W, 3) uint8 ndarray
        Red, green, blue; the longer side has `longest_side_px`, or the photograph's own if that is less.

    Raises
    ------
    UnreadablePhoto, PhotoSizeError
        As `load`, but a photograph may be small.
    """
    import cv2

    data, name = read_file(source)
    header, exif = read_head(data, name)
    check_large(header, name)
    longest = max(header.width_px, header.height_px)
    shrink = next((by for by in (8, 4, 2) if longest >= 2 * by * longest_side_px), 1)
    decoded = pixels.decode(data, header, name, shrink=shrink)
    picture = _eight_bit(decoded.rgb, decoded.top_code)
    share = longest_side_px / max(picture.shape[:2])
    if share < 1:
        height, width = (max(1, round(side * share)) for side in picture.shape[:2])
        picture = cv2.resize(picture, (width, height), interpolation=cv2.INTER_AREA).astype(
            np.uint8, copy=False
        )
    return picture if decoded.upright else turn_upright(picture, exif.orientation)


def drawing_copy(data: bytes, *, longest_side_px: int, name: str) -> colour.Pixels:
    """A small copy of a drawn picture: a shop's mark, a signature. What is transparent comes out white.

    Decoded in another process whatever its kind, as nothing but a paper waits for it.

    Returns
    -------
    (H, W, 3) uint8 ndarray
        Red, green, blue.

    Raises
    ------
    UnreadablePhoto, PhotoSizeError
        As `load`; and it is neither PNG nor JPEG nor WebP.
    """
    header, _ = read_head(data, name)
    check_large(header, name)
    if header.kind not in DRAWN:
        raise UnreadablePhoto(f"{name} is {header.kind}; give a PNG or JPEG file.")
    return pixels.decode(data, header, name, drawing_px=longest_side_px).rgb


def turn_upright(picture: colour.Pixels, orientation: int) -> colour.Pixels:
    """Turn a picture as its EXIF orientation says (CIPA DC-008, tag 274).

    Parameters
    ----------
    picture : (H, W, 3) ndarray
    orientation : int
        1..8; where row 0 and column 0 of the stored picture belong.

    Returns
    -------
    (H, W, 3) or (W, H, 3) ndarray
        The same pixels, in the order a person sees them; contiguous.
    """
    import cv2

    if orientation in (5, 7):
        picture = cv2.transpose(picture)
    if orientation in (2, 5, 7):
        turned = {2: 1, 5: None, 7: -1}[orientation]
        return picture if turned is None else cv2.flip(picture, turned)
    if orientation == 4:
        return cv2.flip(picture, 0)
    turns = {3: cv2.ROTATE_180, 6: cv2.ROTATE_90_CLOCKWISE, 8: cv2.ROTATE_90_COUNTERCLOCKWISE}
    return cv2.rotate(picture, turns[orientation]) if orientation in turns else picture


def _eight_bit(rgb: colour.Pixels, top_code: int) -> NDArray[np.uint8]:
    if rgb.dtype == np.uint8:
        return rgb.astype(np.uint8, copy=False)
    import cv2

    return cv2.convertScaleAbs(rgb, alpha=255 / top_code).astype(np.uint8, copy=False)


def _facts(header: FileHeader, exif: ExifFacts, shape: tuple[int, ...], sha256: str, name: str) -> PhotoFacts:
    return PhotoFacts(
        name=name,
        sha256=sha256,
        width_px=shape[1],
        height_px=shape[0],
        taken=exif.taken,
        exposure_s=exif.exposure_s,
        iso=exif.iso,
        f_number=exif.f_number,
        focal_length_mm=exif.focal_length_mm,
        camera=exif.camera,
        bits=header.bits,
        hdr=exif.hdr or header.gain_map,
    )


def _focal_px(exif: ExifFacts, shape: tuple[int, ...]) -> float | None:
    """Focal length in pixels: CIPA DC-008 compares diagonals, and that of 36 x 24 mm is 43.27 mm."""
    if exif.focal_length_35mm is None:
        return None
    return exif.focal_length_35mm / math.hypot(36, 24) * math.hypot(*shape[:2])


def _warnings(
    header: FileHeader, exif: ExifFacts, profile: colour.Profile, *, see_through: bool
) -> tuple[Remark, ...]:
    said = {
        "several-pictures": header.frames > 1,
        "merged": exif.hdr or header.gain_map,
        "printing-colours": header.cmyk,
        "unknown-colours": profile == "other" and not header.cmyk,
        "see-through": see_through,
    }
    return tuple(Remark(code=code) for code, holds in said.items() if holds)
