"""Camera facts from an EXIF block (CIPA DC-008): exposure, lens, time, orientation, HDR hints.

Places and serial numbers are never taken over: only the tags named here leave this module.
"""

from __future__ import annotations

import io
import math
import re
import warnings
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from defectmap.panel.photo.directory_check import is_sound

_ORIENTATION, _MAKE, _MODEL, _EXIF_IFD = 274, 271, 272, 0x8769
_EXPOSURE, _F_NUMBER, _ISO, _EXPOSURE_INDEX = 33434, 33437, 34855, 0x8832
_SHUTTER_APEX, _APERTURE_APEX, _FOCAL, _FOCAL_35MM = 37377, 37378, 37386, 41989
_TAKEN = (36867, 36868)  # DateTimeOriginal, DateTimeDigitized; 306 is the time of the last edit, so left out
_TAKEN_OFFSET = 36881  # OffsetTimeOriginal, EXIF 2.31
_CUSTOM_RENDERED, _COMPOSITE = 0xA401, 0xA460
# CustomRendered: 0 and 1 are the standard's; phones extend it with 2 (HDR, original kept), 3 (HDR) and
# 8 (portrait, HDR): from memory. CompositeImage (EXIF 2.32): 2 and 3 are merged exposures.
_ISOS, _EXPOSURES_S, _FOCALS_MM = (1.0, 1e7), (1e-7, 1e5), (0.1, 1e4)
_HDR_RENDERED, _HDR_COMPOSITE = frozenset({2, 3, 8}), frozenset({2, 3})


@dataclass(frozen=True, slots=True, kw_only=True)
class ExifFacts:
    """The facts used here; unknown is None, orientation 1 is upright."""

    orientation: int = 1
    taken: str | None = None
    taken_offset: str | None = None  # "+02:00", where the camera tells its time zone
    exposure_s: float | None = None
    iso: float | None = None
    f_number: float | None = None
    focal_length_mm: float | None = None
    focal_length_35mm: float | None = None  # the length that gives this view on 36 x 24 mm
    camera: str | None = None
    hdr: bool = False


def read_exif(block: bytes) -> ExifFacts:
    """Read an EXIF block that starts with its TIFF header; a damaged block gives no facts, never an error.

    Examples
    --------
    >>> read_exif(b"no block at all").orientation
    1
    """
    if not block or not is_sound(block):
        return ExifFacts()
    from PIL import Image

    exif = Image.Exif()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what can be read of a damaged block is read
            exif.load_from_fp(io.BytesIO(block))
            tags: dict[int, Any] = {**dict(exif), **exif.get_ifd(_EXIF_IFD)}
    except Exception:  # the library raises many kinds for damaged blocks, and facts are only a help
        return ExifFacts()
    return _facts(tags)


def _facts(tags: Mapping[int, Any]) -> ExifFacts:
    orientation = _number(tags.get(_ORIENTATION)) or 1
    shutter, aperture = _real(tags.get(_SHUTTER_APEX)), _real(tags.get(_APERTURE_APEX))
    stored_iso = tags.get(_ISO)  # a list in the standard, so a pair here is no fraction
    iso = _number(stored_iso[0] if isinstance(stored_iso, tuple) and stored_iso else stored_iso)
    if iso == 65535:  # EXIF 2.3: the 16-bit field is full, the true value stands elsewhere
        iso = _number(tags.get(_EXPOSURE_INDEX)) or iso
    return ExifFacts(
        orientation=int(orientation) if orientation in range(1, 9) else 1,
        taken=next((t for t in map(_time, (tags.get(key) for key in _TAKEN)) if t), None),
        taken_offset=_offset(tags.get(_TAKEN_OFFSET)),
        exposure_s=_within(_EXPOSURES_S, _number(tags.get(_EXPOSURE)))
        or _power(-shutter if shutter is not None else None),
        iso=_within(_ISOS, iso),
        f_number=_number(tags.get(_F_NUMBER)) or _power(aperture / 2 if aperture is not None else None),
        focal_length_mm=_within(_FOCALS_MM, _number(tags.get(_FOCAL))),
        focal_length_35mm=_within(_FOCALS_MM, _number(tags.get(_FOCAL_35MM))),
        camera=_camera(tags),
        hdr=tags.get(_CUSTOM_RENDERED) in _HDR_RENDERED or tags.get(_COMPOSITE) in _HDR_COMPOSITE,
    )


def _real(value: Any) -> float | None:
    """A single number; some writers store a fraction as two numbers, so a pair is taken for one."""
    try:
        if isinstance(value, tuple):
            number = float(value[0]) / float(value[1]) if len(value) == 2 else float(value[0])
        else:
            number = float(value)
    except (TypeError, ValueError, IndexError, ZeroDivisionError, OverflowError):
        return None
    return number if math.isfinite(number) else None


def _number(value: Any) -> float | None:
    number = _real(value)
    return number if number is not None and number > 0 else None


def _within(limits: tuple[float, float], value: float | None) -> float | None:
    """A figure that no camera has is a damaged tag, and so unknown."""
    return value if value is not None and limits[0] <= value <= limits[1] else None


def _power(exponent: float | None) -> float | None:
    """APEX value to a plain one: 2 to the power of it."""
    return 2.0**exponent if exponent is not None and abs(exponent) < 40 else None


def _time(value: Any) -> str | None:
    """EXIF's "2026:05:01 10:11:12" as ISO 8601; dates that are in no calendar are unknown."""
    found = re.match(r"(\d{4}):(\d\d):(\d\d) (\d\d:\d\d:\d\d)", str(value or ""), re.ASCII)
    if not found:
        return None
    try:
        return datetime.fromisoformat(f"{found[1]}-{found[2]}-{found[3]}T{found[4]}").isoformat()
    except ValueError:
        return None


def _offset(value: Any) -> str | None:
    found = re.match(r"[+-](0\d|1[0-4]):[0-5]\d", str(value or ""), re.ASCII)
    return found[0] if found else None


def _camera(tags: Mapping[int, Any]) -> str | None:
    make, model = (
        "".join(c for c in str(tags.get(key) or "") if c.isprintable()).strip() for key in (_MAKE, _MODEL)
    )
    name = model if model.lower().startswith(make.lower()) else f"{make} {model}".strip()
    return name[:80] or None
