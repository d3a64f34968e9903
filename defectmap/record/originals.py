"""Photographs kept unchanged, each named by its SHA-256: one interface for a folder and an object store.

Wherever they lie, a name always stands for a whole file, nothing is ever overwritten, and bytes are held
against their hash when they are read. `disk_originals` keeps them in a folder, `object_originals` behind a
URL.
"""

from __future__ import annotations

import hashlib
import os
import re
import time
import uuid
from abc import ABC, abstractmethod
from collections.abc import Container, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Literal

from defectmap.errors import BadPhotographFile, OriginalDamaged, OriginalsUnreachable

CHUNK_BYTES = 1 << 20
MAX_FILE_BYTES = 1 << 30
STALE_AFTER_S = 24 * 3600.0  # an unfinished copy older than this belongs to no running program
State = Literal["whole", "missing", "altered"]
HEX_SHA256 = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A file that is now kept (it may have been before)."""

    sha256: str
    size_bytes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptOriginal:
    """Where one original is found; small enough to be sent to a worker."""

    sha256: str
    path: Path  # on this computer: the original, or the copy that `bring` makes of it

    def bring(self) -> State:
        """See to it that `path` holds the bytes, and say whether they have their hash.

        Raises
        ------
        OriginalsUnreachable
            The object store does not answer, or does not let us in.
        """
        return state_of(self.path, self.sha256)


class Originals(ABC):
    """All kept originals of a record."""

    def __init__(self, folder: Path) -> None:
        """Use (and create) the folder of unfinished copies in `folder`, on this computer."""
        self.incoming = folder / "incoming"
        self.incoming.mkdir(parents=True, exist_ok=True)

    @abstractmethod
    def kept(self, sha256: str) -> KeptOriginal:
        """Where the original of that hash lies, whether or not it does.

        Raises
        ------
        ValueError
            `sha256` is not 64 hexadecimal digits.
        """

    @abstractmethod
    def state(self, sha256: str) -> State:
        """Whether the kept bytes still have their hash (reads the whole file where it is kept)."""

    @abstractmethod
    def strays(self, known: Container[str]) -> Iterator[str]:
        """Where there is a file that is none of these hashes at its place, in order."""

    @abstractmethod
    def shared_file(self, name: str) -> Path:
        """A file of that name that lies beside the originals, as it is now; it need not be there."""

    @abstractmethod
    def share(self, name: str) -> None:
        """Make known to all that the file beside the originals was changed here."""

    @abstractmethod
    def _name(self, unfinished: Path, kept: Kept) -> None:
        """Give a finished copy its name; never replaces anything that has it."""

    def keep(self, file: Path, *, name: str | None = None) -> Kept:
        """Copy a file; the source is only read.

        Parameters
        ----------
        name : str, optional
            What to call it; the file's name if not given.

        Raises
        ------
        BadPhotographFile
            The file cannot be read, is empty, or is above `MAX_FILE_BYTES`.
        OriginalDamaged
            That hash is kept already, with other bytes.
        OriginalsUnreachable
            The object store does not answer, or does not let us in.
        """
        name = name or file.name
        try:
            if file.exists() and not file.is_file():  # a pipe would be waited for, and a device never ends
                raise BadPhotographFile(f"{name} is not a file; name a photograph.")
            with file.open("rb") as source:
                _check_size(os.fstat(source.fileno()).st_size, name)
                return self.keep_stream(source, name=name)
        except OSError as error:
            raise BadPhotographFile(
                f"{name} could not be copied into the record ({error.strerror}); "
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
        OriginalsUnreachable
            The object store does not answer, or does not let us in.
        """
        one = self.kept(sha256)
        state = "missing"
        if one.path.is_file() or (state := one.bring()) == "whole":
            data = one.path.read_bytes()
            if hashlib.sha256(data).hexdigest() == sha256:
                return data
            state = one.bring()  # a copy that was spoilt on this computer is brought anew
            if state == "whole":
                return one.path.read_bytes()
        raise OriginalDamaged(f"The kept original of {name} is {state}; restore it from a copy.")

    def local(self, sha256: str) -> Path:
        """A file of this computer to look at; it is not there where the original cannot be had."""
        one = self.kept(sha256)
        if not one.path.exists():
            try:
                one.bring()
            except OriginalsUnreachable:
                return one.path
        return one.path

    def leftovers(self) -> tuple[Path, ...]:
        """Unfinished copies on this computer that a crash left."""
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


def checked_hash(sha256: str) -> str:
    """The hash, if it is one: nothing else may lead to a path."""
    if not HEX_SHA256.fullmatch(sha256):
        raise ValueError(f"not a SHA-256 in hexadecimal: {sha256!r}")
    return sha256


def state_of(path: Path, sha256: str) -> State:
    """Whether a file still has its hash (reads all of it)."""
    try:
        with path.open("rb") as file:
            return "whole" if hash_of(file) == sha256 else "altered"
    except FileNotFoundError:
        return "missing"
    except OSError:
        return "altered"


def hash_of(file: IO[bytes]) -> str:
    """SHA-256 of what is left of an open file, in hexadecimal."""
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
            _check_size(size, name)
            digest.update(chunk)
            out.write(chunk)
        out.flush()
        os.fsync(out.fileno())
    if size == 0:
        raise BadPhotographFile(f"{name} is empty; copy it from the camera again.")
    return Kept(sha256=digest.hexdigest(), size_bytes=size)


def _check_size(size_bytes: int, name: str) -> None:
    if size_bytes > MAX_FILE_BYTES:
        raise BadPhotographFile(
            f"{name} is larger than {MAX_FILE_BYTES >> 20} MiB; a photograph is not. Check the file."
        )
