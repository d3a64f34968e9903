"""Where results are written: whole or not at all, and never over a file that is not ours."""

from __future__ import annotations

import os
import struct
import uuid
import zlib
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path

from defectmap.errors import DefectmapError

PICTURE_SUFFIXES = frozenset(
    {".jpg", ".jpeg", ".jpe", ".png", ".tif", ".tiff", ".webp", ".heic", ".heif", ".hif", ".bmp"}
)
FILM_SUFFIXES = frozenset({".mp4", ".mov", ".m4v", ".webm"})
MARK = b"written by defectmap"
# A file is known as ours by the mark, the name in a record, or the first row of a report's table
_SIGNS = (MARK, b'"program": "defectmap ', b"panel,figure,unit,before,after,change_percent")
_LOOKED_AT_BYTES = 16_384
_NOTHING_BYTES = 4  # an empty file, or an empty list, is no loss
_overwrite: ContextVar[bool] = ContextVar("overwrite", default=False)


class OutputError(DefectmapError):
    """A result cannot be written where it was asked for."""


def find_photos(paths: Sequence[Path]) -> list[Path]:
    """Return the photographs and films named, a folder standing for those inside it, in order of name.

    Raises
    ------
    OutputError
        A path does not exist, or a folder holds no picture.
    """
    photos: list[Path] = []
    for path in paths:
        if path.is_dir():
            known = PICTURE_SUFFIXES | FILM_SUFFIXES
            inside = sorted(p for p in path.iterdir() if p.suffix.lower() in known and p.is_file())
            if not inside:
                raise OutputError(f"No picture in the folder {path}; name a folder that holds photographs.")
            photos += inside
        elif path.exists():
            photos.append(path)
        else:
            raise OutputError(f"File not found: {path}; check the name and the folder.")
    return photos


def plan_outputs(
    target: Path | None, photos: Sequence[Path], *, ending: str, suffix: str
) -> list[Path | None]:
    """Choose one file to write for each photograph.

    Parameters
    ----------
    target : Path, optional
        What the person typed: a file, or a folder (one that exists, or any name without an ending).
    photos : sequence of Path
        The photographs, in order.
    ending : str
        Goes behind the photograph's name in a folder: ``door.jpg`` gives ``door-zone.png`` for ``-zone``.
    suffix : str
        Ending of files in a folder, with the dot.

    Returns
    -------
    list of Path or None
        As many as photographs. One photograph and a file name: that file. Several and a file name: the
        photograph's name is put in before the ending (``zone.png`` gives ``zone-door.png``).
    """
    if target is None:
        return [None] * len(photos)
    in_folder = target.is_dir() or not target.suffix
    taken: set[Path] = set()
    plan: list[Path | None] = []
    for photo in photos:
        if in_folder:
            path = target / f"{photo.stem}{ending}{suffix}"
        elif len(photos) == 1:
            path = target
        else:
            path = target.with_name(f"{target.stem}-{photo.stem}{target.suffix}")
        plan.append(_free(path, taken))
    return plan


def check_outputs(outputs: Iterable[Path | None], photos: Sequence[Path] = ()) -> None:
    """Refuse, before any work, results that could not be written in the end.

    Raises
    ------
    OutputError
        Two results of one name, one of the photographs, or a file that this program did not write.
    """
    taken: set[str] = set()
    for path in outputs:
        if path is None:
            continue
        place = os.path.normcase(os.path.realpath(path))
        if place in taken:
            raise OutputError(f"Two results would be written to {path}; give each a name of its own.")
        taken.add(place)
        if any(path.exists() and photo.exists() and os.path.samefile(path, photo) for photo in photos):
            raise OutputError(f"{path} is one of the photographs; choose another name for the result.")
        refuse_foreign(path)


def refuse_foreign(path: Path) -> None:
    """Refuse to write over a file that this program did not write, unless `overwriting` was said.

    Raises
    ------
    OutputError
        There is such a file, or a folder.
    """
    if path.is_dir():
        raise OutputError(f"{path} is a folder; give the name of a file.")
    if not path.is_file() or _overwrite.get():
        return
    try:
        with path.open("rb") as file:
            looked_at = file.read(_LOOKED_AT_BYTES)
            file.seek(max(0, path.stat().st_size - _LOOKED_AT_BYTES))
            ours = len(looked_at) <= _NOTHING_BYTES or _signed(looked_at) or _signed(file.read())
    except OSError as error:
        raise _cannot(path, error) from error
    if not ours:
        what = "a picture" if path.suffix.lower() in PICTURE_SUFFIXES else "a file"
        raise OutputError(
            f"{path} is {what} that defectmap did not write; choose another name, or say --overwrite."
        )


@contextmanager
def overwriting(allowed: bool) -> Iterator[None]:
    """Let results replace any file but the photographs themselves, inside the block."""
    token = _overwrite.set(allowed)
    try:
        yield
    finally:
        _overwrite.reset(token)


def write_file(path: Path, data: bytes) -> None:
    """Write a result whole: under a passing name first, so that nobody ever sees half of it.

    The folder is made where there is none. JSON, PDF, HTML, PNG, JPEG and CSV files carry a mark, by which a
    later run knows that it may replace them. What is no file (`/dev/stdout`) is written as it is.

    Raises
    ------
    OutputError
        There is a file that this program did not write, or the place cannot be written.
    """
    refuse_foreign(path)
    try:
        if path.exists() and not path.is_file():
            path.write_bytes(data)
            return
        path.parent.mkdir(parents=True, exist_ok=True)
        target = Path(os.path.realpath(path))  # a link stays a link
        unfinished = target.with_name(f".{target.name[:100]}.{uuid.uuid4().hex[:8]}.part")
        try:
            unfinished.write_bytes(_marked(data))
            os.replace(unfinished, target)
        finally:
            unfinished.unlink(missing_ok=True)
    except OSError as error:
        raise _cannot(path, error) from error


def _cannot(path: Path, error: OSError) -> OutputError:
    reason = error.strerror or str(error)
    return OutputError(f"{path} cannot be written ({reason}); choose another place.")


def _signed(data: bytes) -> bool:
    return any(sign in data for sign in _SIGNS)


def _marked(data: bytes) -> bytes:
    """Put the mark where the kind of file has room for it and readers pass over it."""
    if _signed(data[:_LOOKED_AT_BYTES]) or _signed(data[-_LOOKED_AT_BYTES:]):
        return data
    if data.startswith(b"\x89PNG\r\n\x1a\n"):  # a tEXt chunk behind IHDR (PNG, third edition, 11.3.3.2)
        body = b"tEXtSoftware\0" + MARK
        chunk = struct.pack(">I", len(body) - 4) + body + struct.pack(">I", zlib.crc32(body))
        return data[:33] + chunk + data[33:]
    if data.startswith(b"\xff\xd8\xff\xe0"):  # a comment behind JFIF's own segment (ISO/IEC 10918-1, B.2.4.5)
        end = 4 + struct.unpack(">H", data[4:6])[0]
        return data[:end] + b"\xff\xfe" + struct.pack(">H", len(MARK) + 2) + MARK + data[end:]
    if data.startswith(b"%PDF"):  # a comment line after the end mark (ISO 32000-1, 7.2.4)
        return data.rstrip(b"\n") + b"\n%" + MARK + b"\n"
    if data.lstrip()[:9].lower() == b"<!doctype":
        return data.rstrip(b"\n") + b"\n<!-- " + MARK + b" -->\n"
    return data


def _free(path: Path, taken: set[Path]) -> Path:
    """Number a second photograph of the same name."""
    free, number = path, 2
    while free in taken:
        free, number = path.with_name(f"{path.stem}-{number}{path.suffix}"), number + 1
    taken.add(free)
    return free
