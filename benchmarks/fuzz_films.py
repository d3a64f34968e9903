"""Sound films of three codings, and ways to damage them where a film's structure hurts, for `fuzz`."""

from __future__ import annotations

import random
import struct
from pathlib import Path

from benchmarks.fuzz_damage import NUMBERS, cut_or_double, flip_bits, odd_number, splice, swap_bytes, truncate

ROOT = Path(__file__).resolve().parents[1]
CONTAINERS = (b"moov", b"trak", b"mdia", b"minf", b"stbl", b"edts", b"dinf", b"udta")
OTHER_KINDS = (
    *(b"free", b"skip", b"mdat", b"moof", b"cmov", b"meta", b"wide", b"uuid", b"stco", b"co64", b"ctts"),
    *(b"stsz", b"stz2", b"avcC", b"hvcC", b"esds", b"sidx", b"elst", b"sbgp", b"saiz"),
)


def sound_films() -> dict[str, bytes]:
    """A film of each coding that phones and OpenCV write."""
    return {
        "film h264": (ROOT / "tests/data/film-h264.mp4").read_bytes(),
        "film hevc": (ROOT / "tests/data/film-hevc.mp4").read_bytes(),
        "film mpeg4": (ROOT / "samples/films/after.mp4").read_bytes(),
    }


def boxes(data: bytes) -> list[tuple[int, int, bytes]]:
    """Every box of a film: where it begins, its length, its kind (ISO/IEC 14496-12, 4.2)."""
    found, places = [], [(0, len(data))]
    while places:
        at, end = places.pop()
        while at + 8 <= end:
            length, kind = struct.unpack_from(">I4s", data, at)
            if length < 8:
                break
            found.append((at, length, kind))
            if kind in CONTAINERS:
                places.append((at + 8, min(at + length, end)))
            elif kind == b"stsd":
                places.append((at + 16, min(at + length, end)))
            elif kind in (b"avc1", b"hvc1", b"hev1", b"mp4v"):
                places.append((at + 86, min(at + length, end)))
            at += length
    return sorted(found)


def box_sizes(rng: random.Random, data: bytes, files: list[bytes]) -> bytes:
    """A box's length, kind, or place in the file changed; or the box twice, or gone."""
    found, out = boxes(data), bytearray(data)
    if not found:
        return odd_number(rng, data, files)
    at, length, _ = rng.choice(found)
    choice = rng.randrange(6)
    if choice == 0:
        struct.pack_into(
            ">I", out, at, rng.choice((*NUMBERS, length + 1, length - 1, length // 2, len(data)))
        )
    elif choice == 1:
        out[at + 4 : at + 8] = rng.choice(OTHER_KINDS)
    elif choice == 2:
        del out[at : at + length]
    elif choice == 3:
        out[at:at] = out[at : at + length] * rng.choice((1, 1, 50))
    elif choice == 4:
        other = rng.choice(found)
        out[at:at] = data[other[0] : other[0] + other[1]]
    else:
        out[at : at + 8] = struct.pack(
            ">I4sQ", 1, bytes(out[at + 4 : at + 8]), rng.choice((0, 8, 16, 2**40, 2**63, 2**64 - 1))
        )
    return bytes(out)


def box_contents(rng: random.Random, data: bytes, files: list[bytes]) -> bytes:
    """Numbers in a small box (sizes of pictures, counts, offsets, the coding's own header) replaced."""
    found, out = [box for box in boxes(data) if box[2] not in (b"mdat", *CONTAINERS)], bytearray(data)
    if not found:
        return odd_number(rng, data, files)
    for _ in range(rng.choice((1, 1, 3))):
        at, length, _ = rng.choice(found)
        for _ in range(rng.choice((1, 2, 8))):
            kind = rng.choice((">B", ">B", ">H", ">I", ">I", ">Q"))
            size = struct.calcsize(kind)
            place = at + 8 + rng.randrange(max(1, min(length, 200) - 8))
            if place + size <= len(out):
                struct.pack_into(kind, out, place, rng.choice((*NUMBERS, 2**63, 2**64 - 1)) & (256**size - 1))
    return bytes(out)


def coded_bytes(rng: random.Random, data: bytes, files: list[bytes]) -> bytes:
    """Bits of the coded pictures themselves, of one place or all over."""
    box = next((box for box in boxes(data) if box[2] == b"mdat"), None)
    if box is None or box[1] < 64:
        return flip_bits(rng, data, files)
    out, reach = bytearray(data), rng.choice((64, 400, box[1]))
    end = min(len(out), box[0] + 8 + reach)
    for _ in range(rng.choice((1, 4, 16, 200))):
        out[rng.randrange(min(box[0] + 8, end - 1), end)] ^= 1 << rng.randrange(8)
    return bytes(out)


def untouched(rng: random.Random, data: bytes, files: list[bytes]) -> bytes:
    return data


WAYS = (
    *(truncate, flip_bits, swap_bytes, odd_number, splice, cut_or_double, untouched),
    *(box_sizes, box_sizes, box_contents, box_contents, box_contents, coded_bytes, coded_bytes),
)


def film_case(seed: int, number: int, films: dict[str, bytes]) -> tuple[str, str, bytes, float | None, bool]:
    """As `fuzz.make_case`, of a film."""
    rng = random.Random(f"{seed}:{number}:film")
    kind, how = rng.choice(sorted(films)), rng.choice(WAYS)
    data = how(rng, films[kind], [*films.values()])
    if rng.random() < 0.2:
        data = rng.choice(WAYS)(rng, data or b"\0", [*films.values()])
    name = f"case{rng.choice(('.mp4', '.mp4', '.mov', '.m4v', '.MP4'))}"
    return f"{kind} / {how.__name__}", name, data, rng.choice((None, 4.8, 4.8, -1.0)), rng.random() < 0.1
