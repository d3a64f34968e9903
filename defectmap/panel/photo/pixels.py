"""Decode a picture to red, green and blue codes, not yet turned upright; or refuse it."""

from __future__ import annotations

import numpy as np

from defectmap.errors import PhotoSizeError, UnreadablePhoto
from defectmap.panel.photo.apart import APART, Ended, OutOfMemory, decode_apart, decode_drawing_apart
from defectmap.panel.photo.colour import Pixels
from defectmap.panel.photo.decoders import Decoded, decode_with_library, with_opencv
from defectmap.panel.photo.fileheader import FileHeader, truncated

_FILL_CODE = 128  # what the JPEG decoder paints where its data ran out (libjpeg: zero coefficients)
_FILL_BLOCK = 8


def decode(
    data: bytes, header: FileHeader, name: str, *, shrink: int = 1, drawing_px: int | None = None
) -> Decoded:
    """Decode the first frame of a file whose header has been read and found sound.

    Transparent parts are put over black: no light came from there, so no mark can be counted there.

    Parameters
    ----------
    shrink : int
        1, 2, 4 or 8: how much smaller a JPEG may come out, for a small copy.
    drawing_px : int, optional
        It is a drawing that is to be no larger than this, see `decoders.decode_drawing`.

    Raises
    ------
    UnreadablePhoto
        The decoder refuses the file, fell over it, or filled the end of a JPEG itself because its data ran
        out.
    PhotoSizeError
        The memory of this computer does not hold the decoded picture.
    """
    try:
        if drawing_px is not None:
            return decode_drawing_apart(data, header, longest_side_px=drawing_px)
        if header.kind in APART:
            decoded: Decoded | None = decode_apart(data, header)
        else:
            decoded = decode_with_library(data, header, shrink=shrink)
    except (MemoryError, OutOfMemory) as error:
        raise PhotoSizeError(f"{name} does not fit in memory; close other programs or shrink it.") from error
    except Ended as error:
        raise decoder_ended(name, header) from error
    except Exception as error:  # each decoder raises its own kinds for damaged files
        raise damaged(name, header) from error
    if decoded is None:
        raise damaged(name, header)
    if shrink == 1 and header.kind == "JPEG" and _decoder_ran_dry(decoded.rgb, data, header):
        raise truncated(name)
    return decoded


def damaged(name: str, header: FileHeader) -> UnreadablePhoto:
    """The refusal of a file that its decoder refused."""
    return UnreadablePhoto(f"{name} is a damaged {header.kind} file; copy it again or save it as JPEG.")


def decoder_ended(name: str, header: FileHeader) -> UnreadablePhoto:
    """The refusal of a file over which the decoder fell or never came to an end."""
    return UnreadablePhoto(
        f"{name} made the {header.kind} decoder stop; the file is damaged, save it anew as JPEG."
    )


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
    again = with_opencv(data[:end] + more + data[end:], header) if not header.cmyk else None
    return again is not None and not np.array_equal(again.rgb, rgb)
