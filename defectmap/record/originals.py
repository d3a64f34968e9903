"""Photographs kept unchanged: a folder in which each file is named by the SHA-256 of its bytes.

A file is first copied beside its place, flushed to the disk, and only then given its name, in one step that
fails where the name exists. So a name in the folder always stands for a whole file, a crash leaves at most a
nameless copy in `incoming`, and nothing is ever overwritten.
"""

from __future__ import annotations

import hashlib
import os
import re
import time
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Literal

from defectmap.errors import BadPhotographFile, OriginalDamaged

CHUNK_BYTES = 1 << 20
MAX_FILE_BYTES = 1 << 30
STALE_AFTER_S = 24 * 3600.0  # an unfinished copy older than this belongs to no running program
State = Literal["whole", "missing", "altered"]
HEX_SHA256 = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A file that is now in the folder (it may have been there before)."""

    sha256: str
    size_bytes: int


class Originals:
    """The folder of kept originals: `originals/ab/abcd…` and `incoming/`."""

    def __init__(self, folder: Path) -> None:
        """Use (and create) the two folders inside `folder`."""
        self.folder = folder / "originals"
        self.incoming = folder / "incoming"
        for place in (self.folder, self.incoming):
            place.mkdir(parents=True, exist_ok=True)

    def path(self, sha256: str) -> Path:
        """Where the original of that hash lies, whether or not it does.

        Raises
        ------
        ValueError
            `sha256` is not 64 hexadecimal digits.
        """
        if not HEX_SHA256.fullmatch(sha256):
            raise ValueError(f"not a SHA-256 in hexadecimal: {sha256!r}")
        return self.folder / sha256[:2] / sha256

    def keep(self, file: Path) -> Kept:
        """Copy a file into the folder; the source is only read.

        Raises
        ------
        BadPhotographFile
            The file cannot be read, is empty, or is above `MAX_FILE_BYTES`.
        OriginalDamaged
            The folder already holds that hash, with other bytes.
        """
        try:
            if file.exists() and not file.is_file():  # a pipe would be waited for, and a device never ends
                raise BadPhotographFile(f"{file.name} is no file; name a photograph.")
            with file.open("rb") as source:
                return self.keep_stream(source, name=file.name)
        except OSError as error:
            raise BadPhotographFile(
                f"{file.name} could not be copied into the record ({error.strerror}); "
                "check the file and the space on the disk."
            ) from error

    def keep_stream(self, source: IO[bytes], *, name: str, expected_sha256: str | None = None) -> Kept:
        """Like `keep`, from an open file; with `expected_sha256` other bytes are refused and not kept."""
        unfinished = self.incoming / f"{uuid.uuid4().hex}.part"
        try:
            kept = _copy(source, unfinished, name=name)
            if expected_sha256 is not None and kept.sha256 != expected_sha256:
                raise OriginalDamaged(
                    f"{name} does not have the hash it is listed under; get an undamaged copy of it."
                )
            self._name(unfinished, kept)
        finally:
            unfinished.unlink(missing_ok=True)
        return kept

    def _name(self, unfinished: Path, kept: Kept) -> None:
        place = self.path(kept.sha256)
        place.parent.mkdir(exist_ok=True)
        try:
            link_new(unfinished, place)
        except FileExistsError:
            if self.state(kept.sha256) != "whole":
                raise OriginalDamaged(
                    f"{place} no longer holds the photograph it is named after; it was not overwritten. "
                    "Move it away, then add the photograph again."
                ) from None
            return
        _flush_folder(place.parent)
        unfinished.unlink(missing_ok=True)
        place.chmod(
            0o444
        )  # only after the copy lost its other name: Windows refuses to remove read-only files

    def state(self, sha256: str) -> State:
        """Whether the kept bytes still have their hash (reads the whole file)."""
        return state_of(self.path(sha256), sha256)

    def read(self, sha256: str, *, name: str) -> bytes:
        """The bytes of a kept original, exactly those that were added.

        Parameters
        ----------
        name : str
            What the photograph was called, for the sentence of the error.

        Raises
        ------
        OriginalDamaged
            It is missing, or no longer the one that was added.
        """
        path = self.path(sha256)
        data = path.read_bytes() if path.is_file() else b""
        if hashlib.sha256(data).hexdigest() != sha256:
            state = "altered" if path.is_file() else "missing"
            raise OriginalDamaged(f"The kept original of {name} is {state}; restore it from a copy.")
        return data

    def names(self) -> Iterator[Path]:
        """Every file in the folder, in order."""
        yield from sorted(path for path in self.folder.rglob("*") if not path.is_dir())

    def leftovers(self) -> tuple[Path, ...]:
        """Unfinished copies that a crash left."""
        return tuple(sorted(self.incoming.glob("*.part")))

    def tidy(self, *, now_s: float | None = None) -> tuple[Path, ...]:
        """Remove unfinished copies that are older than a day; returns what was removed."""
        now = time.time() if now_s is None else now_s
        removed = []
        for path in self.leftovers():
            try:
                if now - path.stat().st_mtime > STALE_AFTER_S:
                    path.unlink()
                    removed.append(path)
            except OSError:
                continue  # another program was quicker, or holds it: it costs only its space
        return tuple(removed)


def state_of(path: Path, sha256: str) -> State:
    """Whether a file still has its hash (reads all of it)."""
    try:
        with path.open("rb") as file:
            return "whole" if _hash_of(file) == sha256 else "altered"
    except FileNotFoundError:
        return "missing"
    except OSError:
        return "altered"


def _hash_of(file: IO[bytes]) -> str:
    digest = hashlib.sha256()
    while chunk := file.read(CHUNK_BYTES):
        digest.update(chunk)
    return digest.hexdigest()


def _copy(source: IO[bytes], target: Path, *, name: str) -> Kept:
    digest = hashlib.sha256()
    size = 0
    with target.open("xb") as out:
        while chunk := source.read(CHUNK_BYTES):
            size += len(chunk)
            if size > MAX_FILE_BYTES:
                raise BadPhotographFile(
                    f"{name} is larger than {MAX_FILE_BYTES >> 20} MiB; a photograph is not. Check the file."
                )
            digest.update(chunk)
            out.write(chunk)
        out.flush()
        os.fsync(out.fileno())
    if size == 0:
        raise BadPhotographFile(f"{name} is empty; copy it from the camera again.")
    return Kept(sha256=digest.hexdigest(), size_bytes=size)


def link_new(unfinished: Path, place: Path) -> None:
    """Give the file its name, or raise FileExistsError; never replaces anything."""
    try:
        os.link(unfinished, place)
    except FileExistsError:
        raise
    except OSError:
        # Some memory cards and network folders have no hard links. Should a second writer come between the
        # look and the renaming, it brought the same bytes: the name is their hash.
        if place.exists():
            raise FileExistsError(place) from None
        unfinished.rename(place)


def _flush_folder(folder: Path) -> None:
    if os.name != "posix":
        return  # Windows has no way to flush a folder, and does not need it
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
