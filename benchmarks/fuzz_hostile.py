"""Files that are built to hurt, not damaged by chance, for `fuzz --hostile`: photographs and films.

Each takes a sound file and makes one thing of it that a decoder, or a reader of headers, may fall over: colour
profiles in pieces, pictures behind pictures, orientations and rotations that contradict, sizes that are only
declared, tables that count what is not there.
"""

from __future__ import annotations

import random
import struct
import zlib
from collections.abc import Callable

from benchmarks.fuzz_damage import NUMBERS, odd_exif
from benchmarks.fuzz_films import boxes
from tests.photofiles import png_chunk

SIZES = (0, 1, 2, 399, 400, 4096, 65535, 100_000, 2**31 - 1, 2**32 - 1)
SOI, EOI = b"\xff\xd8", b"\xff\xd9"


def segment(marker: int, body: bytes) -> bytes:
    """One segment of a JPEG."""
    return bytes([0xFF, marker]) + struct.pack(">H", min(len(body), 65533) + 2) + body[:65533]


def profile_in_pieces(rng: random.Random, data: bytes) -> bytes:
    """An ICC profile in numbered pieces of which some are missing, doubled, or counted wrong."""
    count = rng.choice((0, 1, 2, 3, 255))
    pieces = b"".join(
        segment(0xE2, b"ICC_PROFILE\0" + bytes([rng.choice((0, 1, 2, 3, 255)), count]) + icc(rng))
        for _ in range(rng.choice((1, 2, 3, 40)))
    )
    return SOI + pieces + data[2:]


def icc(rng: random.Random) -> bytes:
    """Something like a profile: its length, its tag table and its offsets are what they like."""
    tags = rng.choice((0, 1, 3, 2**16, 2**32 - 1))
    table = b"".join(
        rng.choice((b"rXYZ", b"desc", b"wtpt", b"cprt"))
        + struct.pack(">II", rng.choice(NUMBERS), rng.choice(NUMBERS))
        for _ in range(min(tags, 8))
    )
    head = struct.pack(">I", rng.choice(NUMBERS)) + rng.randbytes(32) + b"acsp" + rng.randbytes(88)
    return head + struct.pack(">I", tags) + table + rng.randbytes(rng.choice((0, 20, 3000)))


def many_segments(rng: random.Random, data: bytes) -> bytes:
    """Thousands of comments, or tables, or scans over again, before the picture."""
    what = rng.choice(
        (segment(0xFE, b"x"), segment(0xE1, b"Exif\0\0" + odd_exif(rng)), segment(0xDD, b"\0\1"))
    )
    return SOI + what * rng.choice((100, 5000, 60_000)) + data[2:]


def scans_again(rng: random.Random, data: bytes) -> bytes:
    """The scan of a JPEG many times over: each costs the whole picture."""
    at = data.find(b"\xff\xda")
    if at < 0:
        return data
    scan = data[at : data.rfind(EOI)]
    return data[:at] + scan[: rng.choice((40, 500, len(scan)))] * rng.choice((2, 20, 300)) + EOI


def picture_in_picture(rng: random.Random, data: bytes) -> bytes:
    """A whole picture in the notes of another, or behind it, many times over."""
    if data.startswith(SOI) and rng.random() < 0.5:
        return SOI + segment(0xE1, b"Exif\0\0" + data[:60_000]) + data[2:]
    return data * rng.choice((2, 3, 12))


def declared_size(rng: random.Random, data: bytes) -> bytes:
    """Another size in the header than in the picture."""
    out, width, height = bytearray(data), rng.choice(SIZES), rng.choice(SIZES)
    if data.startswith(b"\x89PNG"):
        head = struct.pack(">II", width, height) + data[24:29]
        return data[:8] + png_chunk(b"IHDR", head) + data[33:]
    if (at := data.find(b"ispe")) >= 0:
        struct.pack_into(">II", out, at + 8, width, height)
    elif (at := data.find(b"VP8X")) >= 0:
        out[at + 12 : at + 18] = (width & 0xFFFFFF).to_bytes(3, "little") + (height & 0xFFFFFF).to_bytes(
            3, "little"
        )
    elif data.startswith(SOI):
        for kind in (0xC0, 0xC1, 0xC2):
            if (at := data.find(bytes([0xFF, kind]))) > 0:
                struct.pack_into(">HH", out, at + 5, height & 0xFFFF, width & 0xFFFF)
    return bytes(out)


def animated(rng: random.Random, data: bytes) -> bytes:
    """Frames that are announced and not there, or lie outside the picture."""
    if not data.startswith(b"\x89PNG"):
        return data
    told = png_chunk(b"acTL", struct.pack(">II", rng.choice(NUMBERS), rng.choice(NUMBERS)))
    frame = png_chunk(
        b"fcTL",
        struct.pack(
            ">IIIIIHHBB", 0, *(rng.choice(SIZES) for _ in range(4)), 1, 0, rng.randrange(4), rng.randrange(3)
        ),
    )
    body = png_chunk(b"fdAT", struct.pack(">I", rng.choice(NUMBERS)) + zlib.compress(rng.randbytes(50)))
    return data[:33] + told + frame * rng.choice((0, 1, 500)) + data[33:-12] + body + data[-12:]


def turned_twice(rng: random.Random, data: bytes) -> bytes:
    """An orientation that the notes and the container tell each in its own way."""
    block = b"II*\0" + struct.pack(
        "<IHHHIHHI", 8, 1, 274, 3, 1, rng.choice((0, 1, 3, 5, 6, 8, 9, 65535)), 0, 0
    )
    if data.startswith(SOI):
        return SOI + segment(0xE1, b"Exif\0\0" + block) * rng.choice((1, 2)) + data[2:]
    if data.startswith(b"\x89PNG"):
        return data[:33] + png_chunk(b"eXIf", block) * rng.choice((1, 2)) + data[33:]
    out = bytearray(data)
    for name in (b"irot", b"imir"):
        at = data.find(name)
        if at >= 0:
            out[at + 4] = rng.choice((0, 1, 2, 3, 4, 255))
    return bytes(out)


def more_boxes(rng: random.Random, data: bytes) -> bytes:
    """Boxes that nobody knows, that hold themselves, or that never end, between those of a HEIC or a film."""
    kind = rng.choice((b"uuid", b"free", b"meta", b"moov", b"iprp", b"idat", b"\0\0\0\0", b"trak"))
    one = struct.pack(">I4s", rng.choice((0, 1, 7, 8, 16, 2**31, 2**32 - 1)), kind) + rng.randbytes(8)
    found = [at for at, _, _ in boxes(data)] or [0]
    at = rng.choice(found)
    return data[:at] + one * rng.choice((1, 3, 2000)) + data[at:]


def counted_wrong(rng: random.Random, data: bytes) -> bytes:
    """Tables of a film or of HEIC items that count what is not there: times, samples, chunks, edits, places."""
    out = bytearray(data)
    names = (
        b"stts",
        b"stsz",
        b"stsc",
        b"stco",
        b"stss",
        b"ctts",
        b"elst",
        b"iloc",
        b"iinf",
        b"ipma",
        b"stsd",
    )
    there = [name for name in names if name in data]
    for name in rng.sample(there, min(len(there), rng.choice((1, 1, 2)))):
        at = data.find(name) + 8 + rng.choice((0, 0, 4, 8, 12))
        if at + 4 <= len(out):
            struct.pack_into(">I", out, at, rng.choice((*NUMBERS, 10_000_000)))
    return bytes(out)


def edited(rng: random.Random, data: bytes) -> bytes:
    """A film's edit list and its times: before the beginning, beyond the end, backwards, without end."""
    edits = [
        struct.pack(
            ">IiI",
            rng.choice(NUMBERS),
            rng.choice((-1, 0, 5, 2**31 - 1, -(2**31))),
            rng.choice((0, 1 << 16, NUMBERS[-1])),
        )
        for _ in range(rng.choice((0, 1, 3, 5000)))
    ]
    body = struct.pack(">II", 0, rng.choice((len(edits), 2**32 - 1))) + b"".join(edits)
    elst = struct.pack(">I4s", len(body) + 8, b"elst") + body
    edts = struct.pack(">I4s", len(elst) + 8, b"edts") + elst
    return inside(data, b"tkhd", edts)


def inside(data: bytes, behind: bytes, added: bytes) -> bytes:
    """A film with a box more behind another; the boxes about it and the places of its pictures are put right."""
    target = next(((at, length) for at, length, kind in boxes(data) if kind == behind), None)
    if target is None:
        return data
    place, out = target[0] + target[1], bytearray(data)
    for at, length, kind in boxes(data):
        if at < place < at + length or (at + length == place and kind in (b"moov", b"trak")):
            struct.pack_into(">I", out, at, length + len(added))
        if kind == b"stco" and data.find(b"mdat") > place:
            count = struct.unpack_from(">I", data, at + 12)[0]
            for number in range(min(count, (length - 16) // 4)):
                spot = at + 16 + 4 * number
                struct.pack_into(">I", out, spot, struct.unpack_from(">I", data, spot)[0] + len(added))
    return bytes(out[:place]) + added + bytes(out[place:])


def turned_film(rng: random.Random, data: bytes) -> bytes:
    """The matrix and the size in the head of a track: turned, mirrored, of nothing, or huge."""
    at, out = data.find(b"tkhd"), bytearray(data)
    if at < 0 or at + 4 + 84 > len(out):
        return data
    one = 1 << 16
    turns = (
        (one, 0, 0, one),
        (0, one, -one, 0),
        (-one, 0, 0, -one),
        (0, -one, one, 0),
        (0, 0, 0, 0),
        (1, 2, 3, 4),
    )
    a, b, c, d = rng.choice(turns)
    struct.pack_into(">9i", out, at + 44, a, b, 0, c, d, 0, 0, 0, rng.choice((0, 1 << 30)))
    if rng.random() < 0.5:
        struct.pack_into(
            ">II", out, at + 80, *(rng.choice((*SIZES, 640 << 16)) & 0xFFFFFFFF for _ in range(2))
        )
    return bytes(out)


def no_pictures(rng: random.Random, data: bytes) -> bytes:
    """A film whose pictures are gone, all the same, or cut in the middle of each."""
    box = next((one for one in boxes(data) if one[2] == b"mdat"), None)
    if box is None:
        return data
    at, length = box[0] + 8, box[1] - 8
    body = data[at : at + length]
    return (
        data[:at]
        + rng.choice((bytes(length), body[: length // 2] + bytes(length - length // 2), body[::-1]))
        + data[at + length :]
    )


PHOTOGRAPHS: tuple[Callable[[random.Random, bytes], bytes], ...] = (
    *(profile_in_pieces, many_segments, scans_again, picture_in_picture, declared_size, animated),
    *(turned_twice, more_boxes, counted_wrong),
)
FILMS = (more_boxes, counted_wrong, edited, turned_film, no_pictures, declared_size)


def hostile_case(
    seed: int, number: int, files: dict[str, bytes], *, films: bool
) -> tuple[str, str, bytes, float | None, bool]:
    """As `fuzz.make_case`: two of these in a row at times, and cut at the end now and then."""
    rng = random.Random(f"{seed}:{number}:hostile:{films}")
    kind, ways = rng.choice(sorted(files)), FILMS if films else PHOTOGRAPHS
    how = rng.choice(ways)
    data = how(rng, files[kind])
    if rng.random() < 0.3:
        data = rng.choice(ways)(rng, data)
    if rng.random() < 0.1:
        data = data[: len(data) * rng.randrange(50, 101) // 100]
    ending = rng.choice((".mp4", ".mov")) if films else rng.choice((".jpg", ".png", ".heic", ".webp"))
    return f"{kind} / {how.__name__}", f"case{ending}", data, rng.choice((None, 4.8)), rng.random() < 0.15
