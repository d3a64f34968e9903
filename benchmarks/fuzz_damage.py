"""Ways to damage a photograph's file, blindly and where its structure hurts, for `fuzz`."""

from __future__ import annotations

import math
import random
import re
import struct
import zlib

from PIL import Image

from tests.photofiles import png_chunk

SUFFIXES = (".jpg", ".JPG", ".png", ".tif", ".webp", ".heic", ".gif", ".bmp", ".dng", ".txt", "", ".jpg.exe")
NUMBERS = (0, 1, 2, 3, 7, 8, 127, 128, 255, 256, 32767, 32768, 65535, 0x7FFFFFFF, 0x80000000, 0xFFFFFFFF)
SCALES = (None, None, 4.8, 4.8, 4.8, 0.0, -1.0, math.nan, math.inf, 1e-9, 1e9, 1e300, 0.01, 200.0)
EXIF_TAGS = (
    *(274, 271, 272, 0x8769, 0x8825, 0xA005, 33434, 33437, 34855, 0x8832, 37377, 37378, 37386, 41989, 36867),
    *(36868, 36881, 0xA401, 0xA460, 0x9286, 0x927C, 37500, 256, 257, 258, 273, 279, 330, 254, 513, 514, 700),
    34675,
)
WRITE_SIZE = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8}


def truncate(rng: random.Random, data: bytes, files: list[bytes]) -> bytes:
    return data[: len(data) * rng.randrange(101) // 100]


def flip_bits(rng: random.Random, data: bytes, files: list[bytes]) -> bytes:
    out = bytearray(data)
    reach = rng.choice((64, 512, 4096, len(out)))
    for _ in range(rng.choice((1, 1, 2, 4, 16, 64))):
        out[rng.randrange(min(reach, len(out)))] ^= 1 << rng.randrange(8)
    return bytes(out)


def swap_bytes(rng: random.Random, data: bytes, files: list[bytes]) -> bytes:
    out = bytearray(data)
    for _ in range(rng.choice((1, 4, 32))):
        a, b = rng.randrange(len(out)), rng.randrange(len(out))
        out[a], out[b] = out[b], out[a]
    return bytes(out)


def odd_number(rng: random.Random, data: bytes, files: list[bytes]) -> bytes:
    out = bytearray(data)
    for _ in range(rng.choice((1, 2, 5))):
        kind = rng.choice((">B", ">H", "<H", ">I", "<I"))
        size = struct.calcsize(kind)
        at = rng.randrange(max(1, min(rng.choice((64, 400, 3000, len(out))), len(out)) - size))
        out[at : at + size] = struct.pack(kind, rng.choice(NUMBERS) & (256**size - 1))
    return bytes(out)


def splice(rng: random.Random, data: bytes, files: list[bytes]) -> bytes:
    other = rng.choice(files)
    a, b = rng.randrange(len(data)), rng.randrange(len(other))
    return (
        data[:a]
        + other[b : b + rng.choice((64, 4096, len(other)))]
        + (data[a:] if rng.random() < 0.5 else b"")
    )


def cut_or_double(rng: random.Random, data: bytes, files: list[bytes]) -> bytes:
    a = rng.randrange(len(data))
    b = min(len(data), a + rng.choice((1, 2, 16, 500, 5000)))
    return data[:a] + (data[a:b] * rng.choice((0, 2, 50))) + data[b:]


def rubbish_behind(rng: random.Random, data: bytes, files: list[bytes]) -> bytes:
    return data + rng.choice((rng.randbytes(3000), b"\0" * 5000, b"\xff" * 5000, rng.choice(files)))


def _segments(data: bytes) -> list[tuple[int, int, int]]:
    found, at = [], 2
    while at + 4 <= len(data) and data[at] == 0xFF and data[at + 1] not in (0xD9,):
        length = struct.unpack_from(">H", data, at + 2)[0]
        found.append((at, data[at + 1], length))
        if data[at + 1] == 0xDA:
            break
        at += 2 + length
    return found


def jpeg_structure(rng: random.Random, data: bytes, files: list[bytes]) -> bytes:
    """Frame headers, tables and lengths of a JPEG, changed where they stand."""
    found, out = _segments(data), bytearray(data)
    if not found:
        return odd_number(rng, data, files)
    at, _marker, length = rng.choice(found)
    frame = next((s for s in found if 0xC0 <= s[1] <= 0xCF and s[1] not in (0xC4, 0xC8, 0xCC)), None)
    choice = rng.randrange(9)
    if choice == 0:
        out[at + 2 : at + 4] = struct.pack(
            ">H", rng.choice((0, 1, 2, 3, length + 1, length - 1, 65535)) & 0xFFFF
        )
    elif choice == 1:
        out[at + 1] = rng.choice((*range(0xC0, 0xD0), 0xD8, 0xD9, 0xDA, 0xDD, 0xE1, 0xE2, 0xFE, 0x01))
    elif choice == 2:
        del out[at : at + 2 + length]
    elif choice == 3:
        out[at:at] = bytes(out[at : at + 2 + length]) * rng.choice((1, 200))
    elif choice == 4:
        for _ in range(rng.choice((1, 3))):
            out[min(len(out) - 1, at + 4 + rng.randrange(max(1, length)))] = rng.choice((0, 1, 127, 128, 255))
    elif frame:
        start = frame[0] + 4
        if choice == 5:  # precision: 12 and 16 bits, 0
            out[start] = rng.choice((0, 1, 2, 12, 16, 255))
            out[frame[0] + 1] = rng.choice((0xC0, 0xC1, 0xC2, 0xC3))
        elif choice == 6:  # size
            sizes = (0, 1, 399, 400, 450, 600, 14000, 65535)
            out[start + 1 : start + 5] = struct.pack(">HH", rng.choice(sizes), rng.choice(sizes))
        elif choice == 7:  # components, sampling, table numbers
            out[start + 5 + rng.randrange(10)] = rng.choice((0, 1, 2, 3, 4, 5, 0x11, 0x14, 0x41, 0x44, 0xFF))
        else:  # arithmetic coding
            out[frame[0] + 1] = rng.choice((0xC9, 0xCA, 0xCB))
    return bytes(out)


def png_structure(rng: random.Random, data: bytes, files: list[bytes]) -> bytes:
    """Chunks of a PNG with odd contents, order and number, checksums put right."""
    if not data.startswith(b"\x89PNG"):
        return odd_number(rng, data, files)
    parts, at = [], 8
    while at + 12 <= len(data):
        length, kind = struct.unpack_from(">I4s", data, at)
        parts.append((kind, bytearray(data[at + 8 : at + 8 + length])))
        at += 12 + length
    choice = rng.randrange(7)
    k = rng.randrange(len(parts))
    kind, body = parts[k]
    if choice <= 1 and body:
        for _ in range(rng.choice((1, 3, 10))):
            body[rng.randrange(len(body))] = rng.choice((0, 1, 2, 3, 4, 6, 8, 16, 127, 128, 255))
    elif choice == 2:
        del parts[k]
    elif choice == 3:
        parts[k:k] = [(kind, body)] * rng.choice((1, 300))
    elif choice == 4:
        head = parts[0][1]
        sizes = (0, 1, 399, 450, 600, 14000, 0x7FFFFFFF, 0xFFFFFFFF)
        head[:8] = struct.pack(">II", rng.choice(sizes), rng.choice(sizes))
    elif choice == 5:
        head = parts[0][1]
        head[8:13] = bytes(rng.choice((0, 1, 2, 3, 4, 6, 8, 16, 255)) for _ in range(5))
    else:
        bomb = zlib.compress(b"\0" * rng.choice((10, 10**6, 5 * 10**7)))
        extra = rng.choice((
            (b"iCCP", b"x\0\0" + bomb), (b"zTXt", b"x\0\0" + bomb), (b"iTXt", b"x\0\1\0\0\0" + bomb), (b"acTL", b""),
            (b"eXIf", odd_exif(rng)), (b"tRNS", rng.randbytes(rng.randrange(300))), (b"PLTE", rng.randbytes(rng.randrange(900))),
            (b"gAMA", struct.pack(">I", rng.choice(NUMBERS))), (b"cHRM", rng.randbytes(32)), (b"sBIT", rng.randbytes(4)),
        ))  # fmt: skip
        parts.insert(1, (extra[0], bytearray(extra[1])))
    return data[:8] + b"".join(png_chunk(bytes(kind), bytes(body)) for kind, body in parts)


def tiff_structure(rng: random.Random, data: bytes, files: list[bytes]) -> bytes:
    """Entries of the first directory: type, count and value replaced, directory loops."""
    if data[:4] not in (b"II*\0", b"MM\0*"):
        return odd_number(rng, data, files)
    order, out = ("<" if data[:2] == b"II" else ">"), bytearray(data)
    start = struct.unpack_from(order + "I", data, 4)[0]
    count = struct.unpack_from(order + "H", data, start)[0]
    for _ in range(rng.choice((1, 1, 2, 4))):
        entry = start + 2 + 12 * rng.randrange(max(1, count))
        choice = rng.randrange(6)
        if choice == 0:
            struct.pack_into(order + "H", out, entry + 2, rng.choice((0, *range(1, 19), 65535)))
        elif choice == 1:
            struct.pack_into(order + "I", out, entry + 4, rng.choice(NUMBERS))
        elif choice == 2:
            struct.pack_into(
                order + "I", out, entry + 8, rng.choice((*NUMBERS, start, len(data), len(data) - 1))
            )
        elif choice == 3:
            struct.pack_into(
                order + "H", out, entry, rng.choice((*EXIF_TAGS, 262, 277, 284, 317, 322, 338, 339, 259))
            )
        elif choice == 4:
            end = start + 2 + 12 * count
            struct.pack_into(order + "I", out, end, rng.choice((start, 8, end, 0xFFFFFFFF, len(data) - 2)))
        else:
            struct.pack_into(order + "H", out, start, rng.choice((0, 1, count + 1, 4000, 65535)))
    return bytes(out)


def box_structure(rng: random.Random, data: bytes, files: list[bytes]) -> bytes:
    """Box sizes and names of a HEIC file, or chunk sizes of a WebP."""
    names = [m.start() for m in re.finditer(rb"(ftyp|meta|mdat|iprp|ipco|ispe|hvcC|iloc|iinf|infe|pitm|iref|irot|imir|"
                                            rb"pixi|colr|auxC|clap|grid|VP8X|VP8L|VP8 |EXIF|ICCP|ANIM|ANMF|ALPH|RIFF)", data)]  # fmt: skip
    if not names:
        return odd_number(rng, data, files)
    out, at = bytearray(data), rng.choice(names)
    order, place = (">", at - 4) if data[4:8] == b"ftyp" else ("<", at + 4)
    choice = rng.randrange(4)
    if choice == 0 and place >= 0:
        struct.pack_into(order + "I", out, place, rng.choice((*NUMBERS, len(data))))
    elif choice == 1:
        out[at : at + 4] = rng.choice(
            (b"free", b"skip", b"ispe", b"irot", b"clap", b"grid", b"iovl", b"VP8X", b"ANMF")
        )
    else:
        for _ in range(rng.choice((1, 2, 6))):
            spot = min(len(out) - 1, at + 4 + rng.randrange(40))
            out[spot] = rng.choice((0, 1, 2, 3, 127, 128, 254, 255))
    return bytes(out)


def odd_exif(rng: random.Random) -> bytes:
    """A TIFF directory built by hand: any tag, type, count and offset, and directories that point at themselves."""
    order = rng.choice("<>")
    head = (b"II*\0" if order == "<" else b"MM\0*") + struct.pack(
        order + "I", rng.choice((8, 8, 8, 8, 0, 4, 0xFFFFFFFF))
    )
    count = rng.randrange(1, 24)
    entries, tail, base = [], b"", 8 + 2 + 12 * count + 4
    for _ in range(count):
        tag, kind = rng.choice(EXIF_TAGS), rng.choice((1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 0, 99))
        number = rng.choice((1, 1, 1, 1, 2, 3, 0, 1000, 65535, 0xFFFFFFFF, 0x20000000))
        value = struct.pack(order + "I", rng.choice((*NUMBERS, 8, base)))
        if WRITE_SIZE.get(kind, 1) * number > 4 and number < 4:
            value = struct.pack(order + "I", base + len(tail))
            some = {
                11: (0.0, math.nan, math.inf, -1.0, 1e38),
                12: (0.0, math.nan, math.inf, -1.0, 1e308),
            }.get(kind)
            for _ in range(number):
                if some:
                    tail += struct.pack(order + ("f" if kind == 11 else "d"), rng.choice(some))
                else:
                    tail += struct.pack(
                        order + "II", rng.choice(NUMBERS), rng.choice((0, 0, 1, 1, *NUMBERS))
                    )[: max(8, 1)]
        entries.append(struct.pack(order + "HHI", tag, kind, number) + value)
    following = struct.pack(order + "I", rng.choice((0, 0, 8, 0xFFFFFFFF)))
    return (
        head
        + struct.pack(order + "H", rng.choice((count, count, count, 65535)))
        + b"".join(entries)
        + following
        + tail
    )


def exif_of_odd_values(rng: random.Random) -> bytes:
    """A sound directory with values that no camera writes."""
    numbers = (0, -1, 1e-30, 1e30, 65535, 4294967295, 0.0)
    exif = Image.Exif()
    try:
        exif[274] = rng.choice((0, 1, 2, 5, 6, 8, 9, 65535, "6", 3))
        exif[271] = rng.choice(
            ("", "A" * 5000, "<script>alert(1)</script>", "=1+1", "\x1b[31m", "\0\0", "日本")
        )
        exif[272] = rng.choice(("", "B" * 5000, "../../x", "{{7*7}}", "a\nb\rc", "\u202egnp"))
        ifd = exif.get_ifd(0x8769)
        for tag in (33434, 33437, 37386, 41989, 37377, 37378):
            ifd[tag] = rng.choice(numbers)
        ifd[34855] = rng.choice((0, 1, 50, 65535, (0, 0), (100, 100), 3, "many", (65535,)))
        ifd[0x8832] = rng.choice((0, 1, 102400, 4294967295))
        ifd[36867] = rng.choice(
            ("0000:00:00 00:00:00", "9999:99:99 99:99:99", "", "x" * 900, "2025:06:07 08:09:10")
        )
        ifd[0xA401], ifd[0xA460] = rng.choice((0, 1, 2, 3, 8, 999)), rng.choice((0, 1, 2, 3, 77))
        return exif.tobytes()
    except Exception:  # a value that the writer cannot store: let another be tried
        return odd_exif(rng)


def with_exif(rng: random.Random, data: bytes, files: list[bytes]) -> bytes:
    block = odd_exif(rng) if rng.random() < 0.6 else exif_of_odd_values(rng)
    block = block.removeprefix(b"Exif\0\0")
    if data.startswith(b"\x89PNG"):
        return data[:33] + png_chunk(b"eXIf", block) + data[33:]
    if data[8:12] == b"WEBP":
        body = data[12:] + b"EXIF" + struct.pack("<I", len(block)) + block + b"\0" * (len(block) & 1)
        return b"RIFF" + struct.pack("<I", len(body) + 4) + b"WEBP" + body
    if data.startswith(b"\xff\xd8"):
        body = b"Exif\0\0" + block[:65000]
        plain, at = bytearray(data), 2
        for start, marker, length in reversed(_segments(data)):
            if marker == 0xE1:
                del plain[start : start + 2 + length]
        return bytes(plain[:at]) + b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body + bytes(plain[at:])
    return tiff_structure(rng, data, files)


def untouched(rng: random.Random, data: bytes, files: list[bytes]) -> bytes:
    return data


def twice(rng: random.Random, data: bytes, files: list[bytes]) -> bytes:
    for _ in range(2):
        data = rng.choice(MUTATIONS[:-1])(rng, data, files) or b"\0"
    return data


MUTATIONS = (
    *(
        truncate,
        flip_bits,
        flip_bits,
        swap_bytes,
        odd_number,
        odd_number,
        splice,
        cut_or_double,
        rubbish_behind,
    ),
    *(jpeg_structure, png_structure, tiff_structure, box_structure, with_exif, with_exif, untouched, twice),
)
FITTING = {"jpeg": jpeg_structure, "mpo": jpeg_structure, "png": png_structure, "apng": png_structure,
           "tiff": tiff_structure, "heic": box_structure, "webp": box_structure}  # fmt: skip


def damaged_case(
    seed: int, number: int, files: dict[str, bytes], mode: str
) -> tuple[str, str, bytes, float | None, bool]:
    """As `fuzz.make_case`, of a photograph that is damaged, or cut at every percent of its length."""
    rng = random.Random(f"{seed}:{number}:{mode}")
    if mode == "cut":
        kind, percent = sorted(files)[number // 99], 1 + number % 99
        return (
            f"{kind} / cut at {percent} %",
            kind,
            files[kind][: len(files[kind]) * percent // 100],
            None,
            False,
        )
    kind = rng.choice(sorted(files))
    how = rng.choice(MUTATIONS)
    if how not in (with_exif, untouched) and rng.random() < 0.3:
        how = FITTING.get(kind.split()[0], how)
    try:
        data = how(rng, files[kind], [*files.values()])
    except (
        struct.error,
        IndexError,
        ValueError,
    ):  # a second change finds no structure that the first has left
        data = flip_bits(rng, files[kind], [])
    name = f"case{rng.choice(SUFFIXES)}"
    if rng.random() < 0.02:
        name = rng.choice(
            ("a\nb.jpg", "\x1b[2J.jpg", "-x.jpg", "日本.jpg", "a" * 250 + ".jpg", "<b>.jpg", "\udcff.jpg")
        )
    scale = rng.choice(SCALES)
    return f"{kind} / {how.__name__}", name, data, scale, rng.random() < 0.5
