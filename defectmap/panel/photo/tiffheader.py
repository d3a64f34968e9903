"""The first directory of a TIFF file, read without decoding it."""

from __future__ import annotations

import io
import warnings
from collections.abc import Sequence

from defectmap.errors import UnreadablePhoto
from defectmap.panel.photo.directory_check import is_sound
from defectmap.panel.photo.file_kinds import raw_file
from defectmap.panel.photo.fileheader import FileHeader, truncated

_WIDTH, _HEIGHT, _BITS, _PHOTOMETRIC, _SAMPLES = 256, 257, 258, 262, 277
_NEW_SUBFILE, _SUB_IFDS, _EXTRA_SAMPLES, _ICC, _DNG_VERSION = 254, 330, 338, 34675, 50706
_STRIPS, _TILES = (273, 279), (324, 325)
_CFA, _LINEAR_RAW, _SEPARATED, _WHITE_IS_ZERO = 32803, 34892, 5, 0
_SAMPLE_FORMAT, _UNSIGNED, _PLANAR = 339, 1, 284


def read_tiff_header(data: bytes, name: str) -> FileHeader:
    """Read size, depth, profile and completeness from the first directory (TIFF 6.0, BigTIFF).

    Raises
    ------
    UnreadablePhoto
        A raw file in a TIFF coat, a depth that is no photograph's, a directory or strips beyond the end.
    """
    if not is_sound(data):
        raise damaged_directory(name)
    tags, more = _first_directory(data, name)
    if _is_raw(tags):
        raise raw_file(name)
    for offsets, counts in (_STRIPS, _TILES):
        ends = zip(_numbers(tags.get(offsets)), _numbers(tags.get(counts)), strict=False)
        if any(offset + count > len(data) for offset, count in ends):
            raise truncated(name)
    bits = max(_numbers(tags.get(_BITS)), default=1)
    sample_format = (*_numbers(tags.get(_SAMPLE_FORMAT)), _UNSIGNED)[0]
    if bits not in (1, 2, 4, 8, 16) or sample_format != _UNSIGNED:
        raise UnreadablePhoto(f"{name} uses a pixel format that is not supported; save it as 8- or 16-bit.")
    if bits == 16 and (*_numbers(tags.get(_PLANAR)), 1)[0] != 1:  # OpenCV 5.0.0 mixes the planes up
        raise UnreadablePhoto(
            f"{name} stores its colours as separate planes; save it interleaved, or as PNG."
        )
    samples = (*_numbers(tags.get(_SAMPLES)), 1)[0]
    photometric = (*_numbers(tags.get(_PHOTOMETRIC)), 1)[0]
    icc = tags.get(_ICC)
    return FileHeader(
        "TIFF",
        width_px=(*_numbers(tags.get(_WIDTH)), 0)[0],
        height_px=(*_numbers(tags.get(_HEIGHT)), 0)[0],
        bits=16 if bits > 8 else 8,
        channels=samples,
        alpha=bool(_numbers(tags.get(_EXTRA_SAMPLES))),
        cmyk=photometric == _SEPARATED,
        white_is_zero=photometric == _WHITE_IS_ZERO and bits == 16,
        frames=2 if more else 1,
        icc=icc if isinstance(icc, bytes) else b"",
    )


def damaged_directory(name: str) -> UnreadablePhoto:
    """The refusal of a file whose directory claims more than it holds."""
    return UnreadablePhoto(f"{name} is a damaged TIFF; copy it again or save it once more.")


def _first_directory(data: bytes, name: str) -> tuple[dict[int, object], bool]:
    from PIL.TiffImagePlugin import ImageFileDirectory_v2

    big = data[2:4] in (b"+\0", b"\0+")
    try:
        directory = ImageFileDirectory_v2(data[: 16 if big else 8])
        stream = io.BytesIO(data)
        stream.seek(directory.next)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # a directory that is cut short shows below, by what it lacks
            directory.load(stream)
            tags = dict(directory)
        has_pixels = any(offsets in tags and counts in tags for offsets, counts in (_STRIPS, _TILES))
        if not (_WIDTH in tags and _HEIGHT in tags and (has_pixels or _is_raw(tags))):
            raise truncated(name)
        return tags, bool(directory.next)
    except UnreadablePhoto:
        raise
    except Exception as error:  # the library raises many kinds for damaged directories
        raise truncated(name) from error


def _is_raw(tags: dict[int, object]) -> bool:
    reduced_first = bool((*_numbers(tags.get(_NEW_SUBFILE)), 0)[0] & 1) and _SUB_IFDS in tags
    photometric = (*_numbers(tags.get(_PHOTOMETRIC)), 1)[0]
    return _DNG_VERSION in tags or photometric in (_CFA, _LINEAR_RAW) or reduced_first


def _numbers(value: object) -> tuple[int, ...]:
    """A tag's value as whole numbers, whatever shape the directory stored it in."""
    if isinstance(value, int):
        return (value,)
    if isinstance(value, Sequence) and not isinstance(value, (bytes, str)):
        return tuple(int(v) for v in value if isinstance(v, int))
    return ()
