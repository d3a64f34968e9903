"""The first directory of a TIFF file, read without decoding it."""

from __future__ import annotations

import io
from collections.abc import Sequence

from defectmap.errors import UnreadablePhoto
from defectmap.fileheader import FileHeader, raw_file, truncated

_WIDTH, _HEIGHT, _BITS, _PHOTOMETRIC, _SAMPLES = 256, 257, 258, 262, 277
_NEW_SUBFILE, _SUB_IFDS, _EXTRA_SAMPLES, _ICC, _DNG_VERSION = 254, 330, 338, 34675, 50706
_STRIPS, _TILES = (273, 279), (324, 325)
_CFA, _LINEAR_RAW, _SEPARATED = 32803, 34892, 5


def read_tiff_header(data: bytes, name: str) -> FileHeader:
    """Read size, depth, profile and completeness from the first directory (TIFF 6.0, BigTIFF).

    Raises
    ------
    UnreadablePhoto
        A raw file in a TIFF coat, a depth that is no photograph's, a directory or strips beyond the end.
    """
    tags, more = _first_directory(data, name)
    if _is_raw(tags):
        raise raw_file(name)
    for offsets, counts in (_STRIPS, _TILES):
        ends = zip(_numbers(tags.get(offsets)), _numbers(tags.get(counts)), strict=False)
        if any(offset + count > len(data) for offset, count in ends):
            raise truncated(name)
    bits = max(_numbers(tags.get(_BITS)), default=1)
    if bits > 16:
        raise UnreadablePhoto(f"{name} holds {bits} bits a channel; save it with 8 or 16 bits.")
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
        frames=2 if more else 1,
        icc=icc if isinstance(icc, bytes) else b"",
        tags=tags,
    )


def _first_directory(data: bytes, name: str) -> tuple[dict[int, object], bool]:
    from PIL.TiffImagePlugin import ImageFileDirectory_v2

    big = data[2:4] in (b"+\0", b"\0+")
    try:
        directory = ImageFileDirectory_v2(data[: 16 if big else 8])
        stream = io.BytesIO(data)
        stream.seek(directory.next)
        directory.load(stream)
        return dict(directory), bool(directory.next)
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
