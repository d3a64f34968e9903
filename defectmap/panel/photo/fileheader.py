"""What a picture file says before it is decoded: kind, size, depth, EXIF, colour profile, completeness.

Nothing here decodes pixels, so a file that claims billions of them is refused for the price of its header.
Layouts: JPEG ISO/IEC 10918-1 annex B, PNG (W3C, third edition), WebP container (RFC 9649), TIFF 6.0,
HEIF ISO/IEC 23008-12.

Pillow's lazy open was tried in its place: of 200 JPEGs and 200 PNGs cut short, and of 200 PNGs with three
bytes changed, it opens every one; this refuses them all. It would stand beside the walk over the file, not
for it.
"""

from __future__ import annotations

import re
import struct
import zlib
from dataclasses import dataclass
from typing import Literal

from defectmap.errors import UnreadablePhoto
from defectmap.panel.photo.file_kinds import READ_KINDS, TIFF_MAGIC, refuse_unknown

FileKind = Literal["JPEG", "PNG", "WebP", "TIFF", "HEIC"]

_FILL_BYTES = re.compile(rb"\xff*(?=\xff)")
_MOST_TABLES = 16  # in one segment; a JPEG holds four
_ENTROPY_END = re.compile(rb"\xff[\x01-\xcf\xd8-\xfe]")  # a marker that is no restart and no stuffed byte


MOST_PARTS = 100_000  # segments, chunks or boxes; a PNG of 700 MB has 85,000, in the usual 8 kB
MOST_SCANS = 100  # of a progressive JPEG: writers make about ten, and each costs a pass over the picture
_MOST_FILL_BYTES = 64  # before a marker


@dataclass(slots=True)
class FileHeader:
    """Facts of the container; `exif` starts with the TIFF header of the EXIF block."""

    kind: FileKind
    width_px: int = 0
    height_px: int = 0
    bits: int = 8
    channels: int = 3
    alpha: bool = False
    cmyk: bool = False
    white_is_zero: bool = False  # 16-bit TIFF only: no decoder turns it round
    frames: int = 1  # 2 stands for "more than one"
    gain_map: bool = False  # an HDR gain map travels with the picture
    exif: bytes = b""
    icc: bytes = b""


def truncated(name: str) -> UnreadablePhoto:
    """The refusal of a file that stops before its picture does."""
    return UnreadablePhoto(f"{name} ends before its picture does; copy it from the camera or phone again.")


def _too_many_parts(name: str) -> UnreadablePhoto:
    return UnreadablePhoto(f"{name} has more parts than a photograph; save it once more, as {READ_KINDS}.")


def read_header(data: bytes, name: str) -> FileHeader:
    """Read the container of a picture without decoding it.

    Parameters
    ----------
    data : bytes
        The whole file.
    name : str
        File name for the sentences of refusals; its ending also tells raw files apart.

    Returns
    -------
    FileHeader
        Size before orientation is applied, depth in bits per channel, EXIF and ICC blocks. Of TIFF and HEIC
        only the kind: `tiffheader` and `pixels` complete them.

    Raises
    ------
    UnreadablePhoto
        Empty, not one of the kinds that are read, a raw file of a camera, or truncated.
    """
    refuse_unknown(data, name)
    try:
        if data.startswith(b"\xff\xd8\xff"):
            return _jpeg(data, name)
        if data.startswith(b"\x89PNG\r\n\x1a\n"):
            return _png(data, name)
        if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
            return _webp(data, name)
        if data[:4] in TIFF_MAGIC:
            return FileHeader("TIFF")
        return _heif(data, name)
    except (struct.error, IndexError) as error:  # a field was cut off in the middle
        raise truncated(name) from error


def _jpeg(data: bytes, name: str) -> FileHeader:
    header = FileHeader("JPEG")
    profile: dict[int, bytes] = {}
    position, scans = 2, 0
    for _ in range(MOST_PARTS):
        fill = _FILL_BYTES.match(data, position, position + _MOST_FILL_BYTES)
        position = fill.end() if fill else position
        if len(data) < position + 2:
            raise truncated(name)
        if data[position] != 0xFF:
            raise UnreadablePhoto(f"{name} is a damaged JPEG; copy it from the camera or phone again.")
        marker = data[position + 1]
        if marker == 0xD9:
            break
        (length,) = struct.unpack_from(">H", data, position + 2)
        body = data[position + 4 : position + 2 + length]
        if len(body) != length - 2:
            raise truncated(name)
        if 0xC0 <= marker <= 0xCF and marker not in (0xC4, 0xC8, 0xCC):
            header.bits, header.height_px, header.width_px, header.channels = struct.unpack_from(
                ">BHHB", body
            )
        elif marker in (0xE1, 0xE2):
            _application_segment(body, header, profile)
        position += 2 + length
        if marker == 0xDA:
            scans += 1
            if scans > MOST_SCANS:
                raise _too_many_parts(name)
            found = _ENTROPY_END.search(data, position)
            if found is None:
                raise truncated(name)
            position = found.start()
    else:
        raise _too_many_parts(name)
    if not scans or not header.width_px or not header.height_px:
        raise UnreadablePhoto(f"{name} is a JPEG without a picture; copy it from the camera or phone again.")
    header.cmyk = header.channels == 4
    header.icc = b"".join(profile[k] for k in sorted(profile))
    return header


def _application_segment(body: bytes, header: FileHeader, profile: dict[int, bytes]) -> None:
    if body.startswith(b"Exif\0\0") and not header.exif:
        header.exif = body[6:]
    elif body.startswith(b"ICC_PROFILE\0") and len(body) > 14:
        profile[body[12]] = body[14:]
    # ISO 21496-1 gain maps announce themselves by URN; older ones by the XMP name space of the same idea
    elif body.startswith(b"urn:iso:std:iso:ts:21496:-1") or b"hdr-gain-map/1.0/" in body:
        header.gain_map = True


def _png(data: bytes, name: str) -> FileHeader:
    header, colour, position, profiles = FileHeader("PNG"), 0, 8, 0
    for _ in range(MOST_PARTS):
        length, kind = struct.unpack_from(">I4s", data, position)
        body = memoryview(data)[position + 8 : position + 8 + length]
        (checksum,) = struct.unpack_from(">I", data, position + 8 + length)
        if zlib.crc32(body, zlib.crc32(kind)) != checksum:
            raise UnreadablePhoto(f"{name} is a damaged PNG; copy it again or save it once more.")
        if kind == b"IHDR":
            header.width_px, header.height_px, header.bits, colour = struct.unpack_from(">IIBB", body)
            header.bits = max(8, header.bits)
            header.channels = 1 if colour in (0, 4) else 3
            header.alpha = colour in (4, 6)
        elif kind == b"tRNS":
            header.alpha = True
        elif kind == b"acTL":
            header.frames = 2 if struct.unpack_from(">I", body)[0] > 1 else 1
        elif kind == b"eXIf":
            header.exif = bytes(body)
        elif kind == b"iCCP":
            profiles += 1
            if profiles > 1:  # the standard has one at most; each costs an unpacking
                raise UnreadablePhoto(f"{name} is a damaged PNG; copy it again or save it once more.")
            header.icc = _inflate(bytes(body).partition(b"\0")[2][1:])
        elif kind == b"IEND":
            return header
        position += 12 + length
    raise _too_many_parts(name)


def _inflate(packed: bytes) -> bytes:
    try:
        return zlib.decompressobj().decompress(packed, 4_000_000)  # no profile is larger; guards memory
    except zlib.error:
        return b""


def _webp(data: bytes, name: str) -> FileHeader:
    if len(data) < 8 + struct.unpack_from("<I", data, 4)[0]:
        raise truncated(name)
    header, position, parts = FileHeader("WebP"), 12, 0
    while position + 8 <= len(data):
        parts += 1
        if parts > MOST_PARTS:
            raise _too_many_parts(name)
        kind, length = struct.unpack_from("<4sI", data, position)
        body = data[position + 8 : position + 8 + length]
        if kind == b"VP8X":
            header.alpha |= bool(body[0] & 0x10)
            header.frames = 2 if body[0] & 0x02 else 1
            header.width_px = 1 + int.from_bytes(body[4:7], "little")
            header.height_px = 1 + int.from_bytes(body[7:10], "little")
        elif kind == b"VP8 " and not header.width_px:
            header.width_px, header.height_px = (v & 0x3FFF for v in struct.unpack_from("<HH", body, 6))
        elif kind == b"VP8L" and not header.width_px:
            (packed,) = struct.unpack_from("<I", body, 1)
            header.width_px, header.height_px = (packed & 0x3FFF) + 1, (packed >> 14 & 0x3FFF) + 1
            header.alpha = bool(packed >> 28 & 1)
        elif kind == b"EXIF":
            header.exif = body.removeprefix(b"Exif\0\0")
        elif kind == b"ICCP":
            header.icc = body
        position += 8 + length + (length & 1)
    return header


def _heif(data: bytes, name: str) -> FileHeader:
    """Walk the top boxes; size, EXIF and profile come from the decoder, which reads them lazily."""
    position, parts = 0, 0
    while position < len(data):
        parts += 1
        if parts > MOST_PARTS:
            raise _too_many_parts(name)
        (size,) = struct.unpack_from(">I", data, position)
        if size == 1:
            (size,) = struct.unpack_from(">Q", data, position + 8)
        if size == 0:  # runs to the end of the file
            break
        if size < 8 or position + size > len(data):
            raise truncated(name)
        position += size
    return FileHeader("HEIC")
