"""Originals in an object store, through fsspec: `s3://bucket/paint/originals/ab/abcd…`.

An object store shows an object when all of it has arrived, or not at all, so a name stands for a whole file
here too. What is read is first copied to this computer, held against its hash, and kept there for the next
reader as long as there is room. Whoever owns the store's access decides who reads and writes; the program
deletes nothing in it.
"""

from __future__ import annotations

import os
import time
import uuid
from collections.abc import Container, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from defectmap.errors import OriginalDamaged, OriginalsUnreachable, RecordUnavailable
from defectmap.record.originals import (
    CHUNK_BYTES,
    Kept,
    KeptOriginal,
    Originals,
    State,
    checked_hash,
    hash_of,
    state_of,
)

if TYPE_CHECKING:
    from fsspec import AbstractFileSystem

PROTOCOLS = ("s3", "gs", "az", "abfs", "memory")  # of stores that show no object before all of it is there
MOST_COPIES_BYTES = 4 << 30  # on this computer; a thousand photographs of a phone
SHARED_FILE_AGE_S = 20.0  # how long a file beside the originals is not looked at again
_LONGEST_REASON = 160
# A store that is gone is told within seconds, not after the library's own minutes.
_S3_PATIENCE = {"connect_timeout": 5, "read_timeout": 60, "retries": {"max_attempts": 3}}


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredOriginal(KeptOriginal):
    """Where one original is found in an object store, and where its copy lies on this computer."""

    url: str

    def bring(self) -> State:
        """See `KeptOriginal.bring`: copies the object where there is no whole copy yet.

        Only a whole one is put at `path`.
        """
        if state_of(self.path, self.sha256) == "whole":
            return "whole"
        unfinished = self.path.with_name(f"{uuid.uuid4().hex}.part")
        try:
            with _reached(self.url) as store:
                try:
                    store.get_file(self.url, str(unfinished))
                except FileNotFoundError:
                    return "missing"
            state = state_of(unfinished, self.sha256)
            if state == "whole":
                os.replace(unfinished, self.path)
                _make_room(self.path.parent)
            return state
        finally:
            unfinished.unlink(missing_ok=True)


class ObjectOriginals(Originals):
    """Originals behind a URL."""

    def __init__(self, url: str, folder: Path) -> None:
        """Use the place that `url` names; copies lie in `folder`, on this computer.

        Raises
        ------
        RecordUnavailable
            The URL is of no store that is known, or its library is not installed.
        """
        super().__init__(folder)
        self.url = url.rstrip("/")
        self.copies = folder / "copies"
        self.copies.mkdir(exist_ok=True)
        self.beside = folder / "beside"
        self.beside.mkdir(exist_ok=True)
        self._looked_at: dict[str, float] = {}
        _store(self.url)

    def kept(self, sha256: str) -> StoredOriginal:
        """See `Originals.kept`."""
        url = f"{self.url}/originals/{checked_hash(sha256)[:2]}/{sha256}"
        return StoredOriginal(sha256=sha256, path=self.copies / sha256, url=url)

    def state(self, sha256: str) -> State:
        """See `Originals.state`: reads the object, not the copy."""
        url = self.kept(sha256).url
        with _reached(url) as store:
            try:
                with store.open(url, "rb", block_size=8 * CHUNK_BYTES) as file:
                    return "whole" if hash_of(file) == sha256 else "altered"
            except FileNotFoundError:
                return "missing"

    def strays(self, known: Container[str]) -> Iterator[str]:
        """See `Originals.strays`."""
        with _reached(self.url) as store:
            found = sorted(store.find(f"{self.url}/originals"))
            right = {
                store._strip_protocol(self.kept(name).url) for name in map(_name_of, found) if name in known
            }
        yield from (path for path in found if path not in right)

    def shared_file(self, name: str) -> Path:
        """See `Originals.shared_file`: a copy, not older than `SHARED_FILE_AGE_S`."""
        path, now = self.beside / name, time.monotonic()
        if now - self._looked_at.get(name, -SHARED_FILE_AGE_S) < SHARED_FILE_AGE_S:
            return path
        with _reached(self.url) as store:
            try:
                _put_in_place(store.cat_file(f"{self.url}/{name}"), path)
            except FileNotFoundError:
                path.unlink(missing_ok=True)
        self._looked_at[name] = now
        return path

    def mark(self, name: str, words: str) -> None:
        """Put a file of words there unless it is: also a first try whether we may read and write.

        Raises
        ------
        OriginalsUnreachable
            The store does not answer, does not let us in, or has no such bucket.
        """
        url = f"{self.url}/{name}"
        with _reached(url) as store:
            try:
                store.info(url)
            except FileNotFoundError:
                store.pipe_file(url, words.encode())

    def share(self, name: str) -> None:
        """See `Originals.share`."""
        with _reached(self.url) as store:
            store.pipe_file(f"{self.url}/{name}", (self.beside / name).read_bytes())

    def _name(self, unfinished: Path, kept: Kept) -> None:
        one = self.kept(kept.sha256)
        url = one.url
        with _reached(url) as store:
            if not store.exists(url):
                store.put_file(str(unfinished), url)
                if store.info(url)["size"] != kept.size_bytes:
                    raise OSError("the object has another size than was sent")
            elif self.state(kept.sha256) != "whole":
                raise OriginalDamaged(
                    f"{url} no longer holds the photograph it is named after; it was not overwritten. "
                    "Move it away, then add the photograph again."
                )
        os.replace(unfinished, one.path)  # who adds a photograph will look at it


def _make_room(folder: Path) -> None:
    """Drop the copies that lie longest, where all together are too large."""
    files = []
    for path in folder.iterdir():
        with suppress(OSError):  # another program drops them too
            seen = path.stat()
            files.append((seen.st_mtime, seen.st_size, path))
    held = sum(size for _, size, _ in files)
    for _, size, path in sorted(files):
        if held <= MOST_COPIES_BYTES:
            return
        with suppress(OSError):
            path.unlink()
            held -= size


def _put_in_place(data: bytes, path: Path) -> None:
    unfinished = path.with_name(f"{uuid.uuid4().hex}.part")
    unfinished.write_bytes(data)
    os.replace(unfinished, path)


def _name_of(path: str) -> str:
    return path.rsplit("/", 1)[-1]


@lru_cache(maxsize=8)
def _file_system(protocol: str) -> AbstractFileSystem:
    import fsspec

    options: dict[str, Any] = {"config_kwargs": _S3_PATIENCE} if protocol == "s3" else {}
    # Others write too: what was seen in a folder a moment ago may be out of date.
    return fsspec.filesystem(protocol, use_listings_cache=False, skip_instance_cache=True, **options)


def _store(url: str) -> AbstractFileSystem:
    protocol = url.partition("://")[0]
    if protocol not in PROTOCOLS:
        raise RecordUnavailable(
            f"Originals cannot be kept at {without_secrets(url)}: name a folder, or an object store by "
            "s3://, gs:// or az://."
        )
    try:
        return _file_system(protocol)
    except (ImportError, ValueError) as error:
        raise RecordUnavailable(
            f"What speaks to {protocol}:// is not installed ({error}); run: "
            'python3 -m pip install "defectmap[objects]"'
        ) from error


@contextmanager
def _reached(url: str) -> Iterator[AbstractFileSystem]:
    """The store; whatever its library raises, also on the way, becomes one sentence."""
    store = _store(url)
    try:
        yield store
    except (OriginalDamaged, OriginalsUnreachable):
        raise
    except PermissionError as error:
        raise OriginalsUnreachable(
            f"The object store does not let this computer use {without_secrets(url)} ({_reason(error)}); "
            "check the access keys and what they may do."
        ) from error
    except Exception as error:  # each store's library raises its own kinds
        raise OriginalsUnreachable(
            f"The object store at {without_secrets(url)} cannot be used ({_reason(error)}); check its "
            "address, the access keys and the network, then try again."
        ) from error


def _reason(error: BaseException) -> str:
    words = " ".join(str(error).split())
    return "".join(c for c in words if c.isprintable())[:_LONGEST_REASON] or type(error).__name__


def without_secrets(url: str) -> str:
    """The URL as it may be shown: without a name and a password before an @."""
    protocol, found, rest = url.partition("://")
    place, slash, path = rest.partition("/")
    return f"{protocol}{found}{place.rpartition('@')[2]}{slash}{path}"
