"""Headers that are small, or cheap to make, and would cost the reader seconds or gigabytes."""

from __future__ import annotations

import struct
import time
import zlib
from collections.abc import Callable
from contextlib import suppress

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from defectmap.errors import UnreadablePhoto
from defectmap.panel.photo.directory_check import MOST_ENTRIES, MOST_NUMBERS, is_sound
from defectmap.panel.photo.exif import ExifFacts, read_exif
from defectmap.panel.photo.fileheader import MOST_PARTS, MOST_SCANS, read_header
from defectmap.panel.photo.tiffheader import read_tiff_header
from tests.photofiles import saved

RGB = np.full((450, 600, 3), 128, np.uint8)
ENTRY = st.tuples(
    st.integers(0, 65535), st.integers(0, 20), st.integers(0, 2**32 - 1), st.integers(0, 2**32 - 1)
)


def directory(*entries: tuple[int, int, int, int], body: bytes = b"") -> bytes:
    """A TIFF file of one directory: tag, type, count, value or place."""
    packed = b"".join(struct.pack("<HHII", *entry) for entry in entries)
    return b"II*\0" + struct.pack("<IH", 8, len(entries)) + packed + b"\0\0\0\0" + body


def chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


@pytest.mark.parametrize(
    "block",
    [
        directory(*((1000 + n, 7, 900, 8) for n in range(50)), body=bytes(1000)),  # all name the same bytes
        directory((1000, 3, MOST_NUMBERS + 1, 8), body=bytes(2 * MOST_NUMBERS + 100)),
        directory(*((1000 + n, 3, 1, 0) for n in range(MOST_ENTRIES + 1))),
        directory((0x8769, 4, 1, 26), (1000, 7, 60_000, 8)),
    ],
    ids=["same bytes", "numbers", "entries", "longer than the file"],
)
def test_a_directory_that_claims_too_much_is_not_unpacked(block: bytes) -> None:
    assert not is_sound(block)
    assert read_exif(block) == ExifFacts()
    with pytest.raises(UnreadablePhoto, match="damaged TIFF"):
        read_tiff_header(block, "x.tif")


def test_the_exif_directory_is_looked_at_too() -> None:
    inner = struct.pack("<H", 9) + b"".join(struct.pack("<HHII", 1000 + n, 7, 900, 8) for n in range(9))
    block = directory((0x8769, 4, 1, 26), body=inner + bytes(900))
    assert not is_sound(block)
    assert is_sound(directory((0x8769, 4, 1, 26), body=inner[:14] + bytes(900)))


@pytest.mark.parametrize("place", [0, 2**32, 2**63 - 1, 2**63, 2**64 - 1])
def test_a_directory_behind_everything_is_cut_short(place: int) -> None:
    block = b"II+\0\x08\0\0\0" + struct.pack("<Q", place) + bytes(100)
    assert read_exif(block) == ExifFacts()
    with pytest.raises(UnreadablePhoto):
        read_tiff_header(block, "x.tif")


def test_a_directory_that_leads_to_itself_ends() -> None:
    assert is_sound(directory((0x8769, 4, 1, 8)))


@given(entries=st.lists(ENTRY, max_size=30), tail=st.binary(max_size=200), cut=st.integers(0, 400))
def test_any_directory_gives_facts_or_none(
    entries: list[tuple[int, int, int, int]], tail: bytes, cut: int
) -> None:
    block = directory(*entries, body=tail)[: 400 - cut]
    assert 1 <= read_exif(block).orientation <= 8
    with suppress(UnreadablePhoto):
        read_tiff_header(block, "x.tif")


@pytest.mark.parametrize(
    "make",
    [
        lambda jpeg, png: jpeg[:2] + b"\xff\xe0\0\2" * (MOST_PARTS + 1) + jpeg[2:],
        lambda jpeg, png: png[:33] + chunk(b"tEXt", b"") * (MOST_PARTS + 1) + png[33:],
        lambda jpeg, png: b"RIFF" + struct.pack("<I", 4) + b"WEBP" + b"XXXX\0\0\0\0" * (MOST_PARTS + 1),
        lambda jpeg, png: b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + b"\0\0\0\x08free" * (MOST_PARTS + 1),
        lambda jpeg, png: jpeg[:-2] + jpeg[jpeg.index(b"\xff\xda") : -2] * (MOST_SCANS + 1) + jpeg[-2:],
    ],
    ids=["jpeg", "png", "webp", "heic", "scans"],
)
def test_a_file_of_endless_parts_is_refused(make: Callable[[bytes, bytes], bytes]) -> None:
    with pytest.raises(UnreadablePhoto, match="more parts than a photograph"):
        read_header(make(saved(RGB, "JPEG"), saved(RGB, "PNG")), "x")


def test_endless_filling_costs_nothing() -> None:
    jpeg = saved(RGB, "JPEG")
    started = time.process_time()
    with pytest.raises(UnreadablePhoto):
        read_header(jpeg[:2] + b"\xff" * 20_000_000 + jpeg[2:], "x")
    assert time.process_time() - started < 0.5
    assert read_header(jpeg[:2] + b"\xff" * 5 + jpeg[2:], "x").width_px == 600


def test_a_second_profile_is_not_unpacked() -> None:
    png, profile = saved(RGB, "PNG"), chunk(b"iCCP", b"x\0\0" + zlib.compress(bytes(1000)))
    assert read_header(png[:33] + profile + png[33:], "x").icc == bytes(1000)
    with pytest.raises(UnreadablePhoto, match="damaged PNG"):
        read_header(png[:33] + profile * 2 + png[33:], "x")
