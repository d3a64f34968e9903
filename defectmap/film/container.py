"""What a film file says before a frame is decoded: is it a film, is it whole, how long is it, from when.

MP4 and MOV are ISO base media files (ISO/IEC 14496-12: boxes 4.2, movie header 8.2.2), WebM is Matroska (RFC
9559, EBML RFC 8794); what a browser records may be either.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import BinaryIO

from defectmap.errors import UnreadableFilm
from defectmap.film import tuning

_HEAD = 8  # bytes of a box's size and kind
_FIRST_KINDS = (b"ftyp", b"moov", b"mdat", b"wide", b"free", b"skip")
# Pictures in the same container: HEIF (ISO/IEC 23008-12), AVIF, and one maker's raw files
_PICTURES = (
    b"heic",
    b"heix",
    b"heim",
    b"heis",
    b"hevc",
    b"hevx",
    b"mif1",
    b"msf1",
    b"avif",
    b"avis",
    b"crx ",
)
_EBML = b"\x1a\x45\xdf\xa3"
_EPOCH = datetime(1904, 1, 1, tzinfo=UTC)  # of times in a movie header
_FIRST_YEAR = 2000  # clocks that were never set say 1904 or 1970
_MOST_HEADER_BYTES = 1 << 16  # of an index that are looked through for the movie header, its first box


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmHeader:
    """What the header says; None where it does not."""

    seconds: float | None = None
    taken: str | None = None  # ISO 8601, UTC


def is_film_file(path: Path) -> bool:
    """Whether a file is a film, by its first bytes; a kept original has no ending that could say so."""
    try:
        if not path.is_file():  # a pipe would be waited for
            return False
        with path.open("rb") as file:
            return is_film_data(file.read(16))
    except OSError:
        return False


def is_film_data(first: bytes) -> bool:
    """Whether a file that begins so is a film.

    Examples
    --------
    >>> [is_film_data(first) for first in (b"....ftypisom", b"....ftypheic", b"\\xff\\xd8\\xff")]
    [True, False, False]
    """
    if first.startswith(_EBML):
        return True
    return first[4:8] in _FIRST_KINDS and not (first[4:8] == b"ftyp" and first[8:12] in _PICTURES)


def read_film_head(path: Path, *, name: str | None = None) -> FilmHeader:
    """Judge a film by its container: kind, wholeness, size and length.

    Parameters
    ----------
    name : str, optional
        What to call it; the file's name if not given.

    Raises
    ------
    UnreadableFilm
        No film, cut off before or in its index, or longer or larger than a sweep needs.
    """
    name = name or path.name
    if path.exists() and not path.is_file():
        raise UnreadableFilm(f"{name} is no file; name a film.")
    try:
        size = path.stat().st_size
        with path.open("rb") as file:
            if size > tuning.MOST_FILM_BYTES:
                raise UnreadableFilm(
                    f"{name} is larger than {tuning.MOST_FILM_BYTES / 1e9:g} GB; film 10 to 20 seconds."
                )
            if file.read(len(_EBML)) == _EBML:
                return FilmHeader()  # says how long it is only where it was not recorded live
            head = _boxed(file, size, name)
    except OSError as error:
        raise UnreadableFilm(
            f"{name} cannot be opened ({error.strerror}); check its name and folder."
        ) from error
    if head.seconds is not None and head.seconds > tuning.MOST_FILM_S:
        raise UnreadableFilm(
            f"{name} runs for {head.seconds:.0f} s; a sweep of one spot takes 10 to 20 s, and "
            f"{tuning.MOST_FILM_S:g} are the most. Cut it to that spot, or film it again."
        )
    return head


def _boxed(file: BinaryIO, size: int, name: str) -> FilmHeader:
    """The boxes of an ISO base media file: is the index there, and whole?"""
    kinds, end = _boxes(file, size)
    if not kinds or kinds[0][0] not in {kind.decode() for kind in _FIRST_KINDS}:
        raise UnreadableFilm(f"{name} is no mp4 or mov film; send the phone's own file.")
    index = next((place for kind, place in kinds if kind == "moov"), None)
    if index is None:
        raise UnreadableFilm(f"{name} is cut off: it ends before its index. Copy the whole file again.")
    if end > size and kinds[-1][0] == "moov":
        raise UnreadableFilm(f"{name} is cut off in its index. Copy the whole file again.")
    file.seek(index)
    return _movie_header(file.read(_MOST_HEADER_BYTES))


def _boxes(file: BinaryIO, size: int) -> tuple[list[tuple[str, int]], int]:
    """Kinds and places of the boxes at the top, and where the last of them ends."""
    kinds: list[tuple[str, int]] = []
    place = 0
    while place + _HEAD <= size and len(kinds) < 10_000:
        file.seek(place)
        head = file.read(16)
        length = int.from_bytes(head[:4], "big")
        kind = head[4:8].decode("latin-1")
        if not kind.isprintable():
            break
        if length == 1:
            length = int.from_bytes(head[8:16], "big")
        kinds.append((kind, place))
        if length == 0:  # to the end of the file
            place = size
            break
        if length < _HEAD:
            break
        place += length
    return kinds, place


def _movie_header(index: bytes) -> FilmHeader:
    """Length and time out of the movie header; nothing where there is none in its usual place."""
    at = index.find(b"mvhd")
    body = index[at + 4 :]
    if at < 0 or len(body) < 32:
        return FilmHeader()
    wide = body[0] == 1
    step = 8 if wide else 4
    times = body[4:]
    created = int.from_bytes(times[:step], "big")
    scale = int.from_bytes(times[2 * step : 2 * step + 4], "big")
    length = times[2 * step + 4 : 3 * step + 4]
    said = scale > 0 and length != b"\xff" * step
    seconds = int.from_bytes(length, "big") / scale if said else None
    return FilmHeader(seconds=seconds or None, taken=_taken(created))


def _taken(created_s: int) -> str | None:
    try:
        taken = _EPOCH + timedelta(seconds=created_s)
    except OverflowError:
        return None
    return taken.isoformat(timespec="microseconds") if taken.year >= _FIRST_YEAR else None
