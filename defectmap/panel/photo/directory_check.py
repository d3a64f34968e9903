"""Whether a TIFF directory could be true, before a library unpacks it.

An entry names how many values it has and where they lie. Nothing keeps thousands of entries from naming the
same megabytes, or one from holding a hundred million numbers, each of which takes 36 bytes once unpacked.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator

# Bytes of a value by its type (TIFF 6.0, section 2; BigTIFF adds 16 to 18)
_SIZES = {
    1: 1,
    2: 1,
    3: 2,
    4: 4,
    5: 8,
    6: 1,
    7: 1,
    8: 2,
    9: 4,
    10: 8,
    11: 4,
    12: 8,
    13: 4,
    16: 8,
    17: 8,
    18: 8,
}
_BYTES_AS_THEY_ARE = (1, 2, 6, 7)
MOST_NUMBERS = 1_000_000  # offsets and lengths of 100 megapixels in tiles of 16 x 16 px are 800,000
MOST_ENTRIES = 1_000  # a camera writes about a hundred
_MOST_TIMES = 4  # values never overlap; programs that edit photographs leave some lengths wrong
_EXIF_DIRECTORY = 0x8769


def is_sound(block: bytes) -> bool:
    """Whether the first directory and the EXIF directory claim no more than they could hold.

    Parameters
    ----------
    block : bytes
        A TIFF file, or an EXIF block that starts with its TIFF header. What is cut short counts as sound: the
        library that reads it says so.

    Examples
    --------
    >>> is_sound(b"II*" + bytes([0, 8, 0, 0, 0, 0, 0, 0, 0, 0, 0]))
    True
    """
    order = "<" if block[:2] == b"II" else ">"
    big = block[2:4] in (b"+\0", b"\0+")
    try:
        (place,) = struct.unpack_from(order + ("Q" if big else "I"), block, 8 if big else 4)
        places, held, numbers, entries = [place], 0, 0, 0
        for place in places:  # which grows by the EXIF directory
            for tag, kind, count, value in _entries(block, place, order=order, big=big):
                size = _SIZES.get(kind, 1) * count
                held += size if size > (8 if big else 4) else 0
                numbers += 0 if kind in _BYTES_AS_THEY_ARE else count
                entries += 1
                if held > _MOST_TIMES * len(block) or numbers > MOST_NUMBERS or entries > MOST_ENTRIES:
                    return False
                if tag == _EXIF_DIRECTORY and len(places) == 1:
                    places.append(value)
    except (struct.error, OverflowError):  # a place behind the end, or behind what a computer can count
        return True
    return True


def _entries(block: bytes, place: int, *, order: str, big: bool) -> Iterator[tuple[int, int, int, int]]:
    """Tag, type, count and value (or where it lies) of each entry."""
    (number,) = struct.unpack_from(order + ("Q" if big else "H"), block, place)
    layout = struct.Struct(order + ("HHQQ" if big else "HHII"))
    first = place + (8 if big else 2)
    for at in range(first, min(first + number * layout.size, len(block) - layout.size + 1), layout.size):
        yield layout.unpack_from(block, at)
