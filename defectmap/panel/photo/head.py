"""What a file says before its picture is decoded: one reader for measuring, the record and the pages.

Kind, size, depth, shape and memory are judged here, so that a file that would cost too much is refused for
the price of its header, and nothing that is no file (a device, a pipe) is ever waited for.
"""

from __future__ import annotations

import os
import stat
from pathlib import Path

from defectmap.errors import PhotoSizeError, UnreadablePhoto
from defectmap.panel.photo import pixels
from defectmap.panel.photo.apart import Ended, complete_header_apart
from defectmap.panel.photo.exif import ExifFacts, read_exif
from defectmap.panel.photo.file_kinds import refuse_unknown
from defectmap.panel.photo.fileheader import FileHeader, read_header
from defectmap.panel.photo.tiffheader import read_tiff_header

MIN_SIDE_PX = 400  # below, the hotspot and a ring of marks around it do not both fit
MAX_MEGAPIXELS = 100.0  # measured: 100 megapixels take 1.46 GB, and the limit is 1.5
# The longest panorama of a phone is about 10 : 1 (common practice, no source); OpenCV counts sides in 16 bits
# with a sign, and 100 megapixels of this shape have 31,623 px.
MAX_ASPECT = 10.0
MAX_DECODED_BYTES = 300_000_000  # one decoded copy: 100 megapixels of 8-bit colour, 37 of 16 bits with alpha
MAX_FILE_BYTES = 700_000_000  # 16-bit colour with alpha at that limit, not compressed, and some
_FIRST_BYTES = 64


def read_file(source: str | Path | bytes, *, name: str | None = None) -> tuple[bytes, str]:
    """The bytes of a file, and what to call it; kind and size are judged before it is read whole.

    Raises
    ------
    UnreadablePhoto
        No file, a folder, a device or a pipe, no picture by its first bytes, or not to be opened.
    PhotoSizeError
        Larger than `MAX_FILE_BYTES`.
    """
    if isinstance(source, bytes):
        return source, name or "The picture"
    path = Path(source)
    name = name or path.name
    try:
        with open(path, "rb", opener=_open_without_waiting) as file:
            _check_file(os.fstat(file.fileno()), name)
            first = file.read(_FIRST_BYTES)
            if len(first) == _FIRST_BYTES:
                refuse_unknown(first, name)
            return first + file.read(MAX_FILE_BYTES), name
    except IsADirectoryError as error:
        raise UnreadablePhoto(f"{name} is a folder; name a photograph in it.") from error
    except FileNotFoundError as error:
        raise UnreadablePhoto(f"File not found: {name}; check its name and folder.") from error
    except OSError as error:
        if path.is_dir():  # Windows opens no folder at all
            raise UnreadablePhoto(f"{name} is a folder; name a photograph in it.") from error
        reason = error.strerror or str(error)
        raise UnreadablePhoto(f"{name} cannot be opened ({reason}); check its permissions.") from error
    except ValueError as error:  # a name with a null character
        raise UnreadablePhoto(f"{name} cannot be opened; check its name.") from error


def read_head(data: bytes, name: str) -> tuple[FileHeader, ExifFacts]:
    """Container and camera facts of a file; nothing is decoded.

    Raises
    ------
    UnreadablePhoto
        See `fileheader.read_header` and `tiffheader.read_tiff_header`; or the decoder fell over the header.
    """
    header = read_header(data, name)
    if header.kind == "TIFF":
        header = read_tiff_header(data, name)
    elif header.kind == "HEIC":
        try:
            complete_header_apart(data, header)
        except Ended as error:
            raise pixels.decoder_ended(name, header) from error
        except Exception as error:  # the decoder raises many kinds for damaged files
            raise pixels.damaged(name, header) from error
    return header, read_exif(data if header.kind == "TIFF" else header.exif)


def check_size(header: FileHeader, name: str, *, max_megapixels: float = MAX_MEGAPIXELS) -> None:
    """Refuse a picture that has too few pixels to measure, or costs too much to decode.

    Raises
    ------
    PhotoSizeError
        The shorter side is below `MIN_SIDE_PX`, or see `check_large`.
    """
    check_large(header, name, max_megapixels=max_megapixels)
    if min(header.width_px, header.height_px) < MIN_SIDE_PX:
        raise PhotoSizeError(
            f"{name} has {header.width_px} x {header.height_px} px, too few to measure: the shorter side "
            f"needs {MIN_SIDE_PX}; use the camera's original, not a preview."
        )


def check_large(header: FileHeader, name: str, *, max_megapixels: float = MAX_MEGAPIXELS) -> None:
    """Refuse a picture that costs too much to decode.

    Raises
    ------
    PhotoSizeError
        More than `max_megapixels`, `MAX_DECODED_BYTES` or `MAX_ASPECT`, or no pixels at all.
    """
    width, height = header.width_px, header.height_px
    megapixels = width * height / 1e6
    if not megapixels > 0:
        raise UnreadablePhoto(f"{name} is a picture without a size; copy it from the camera or phone again.")
    longer, shorter = max(width, height), min(width, height)
    if longer > MAX_ASPECT * shorter:
        raise PhotoSizeError(
            f"{name} has {width} x {height} px, too long a strip for a photograph of a panel; crop it to the "
            "panel."
        )
    if megapixels > max_megapixels:
        raise PhotoSizeError(
            f"{name} has {megapixels:.0f} megapixels, more than the limit of {max_megapixels:g}; "
            "save a smaller copy or crop it to the panel."
        )
    decoded_bytes = width * height * (3 + header.alpha) * (2 if header.bits > 8 else 1)
    if decoded_bytes > MAX_DECODED_BYTES:
        raise PhotoSizeError(
            f"{name} has {megapixels:.0f} megapixels of {header.bits} bits, too much to decode; "
            "save it as an 8-bit JPEG."
        )


def _check_file(status: os.stat_result, name: str) -> None:
    if stat.S_ISDIR(status.st_mode):
        raise UnreadablePhoto(f"{name} is a folder; name a photograph in it.")
    if not stat.S_ISREG(status.st_mode):
        raise UnreadablePhoto(f"{name} is a device or a pipe, no file; name a photograph.")
    if status.st_size > MAX_FILE_BYTES:
        raise PhotoSizeError(
            f"{name} has {status.st_size / 1e6:.0f} MB, more than the limit of {MAX_FILE_BYTES / 1e6:.0f}; "
            "save it as an 8-bit JPEG."
        )


def _open_without_waiting(path: str, flags: int) -> int:
    # Opening a pipe for reading waits for a writer, unless told not to; a regular file does not mind.
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_CLOEXEC", 0))
