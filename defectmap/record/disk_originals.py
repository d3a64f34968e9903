"""Originals in a folder: `originals/ab/abcd…` and `incoming/`.

A file is first copied beside its place, flushed to the disk, and only then given its name, in one step that
fails where the name exists. So a crash leaves at most a nameless copy in `incoming`.
"""

from __future__ import annotations

import os
from collections.abc import Container, Iterator
from pathlib import Path

from defectmap.errors import OriginalDamaged
from defectmap.record.originals import Kept, KeptOriginal, Originals, State, checked_hash, state_of


class DiskOriginals(Originals):
    """The folder of kept originals."""

    def __init__(self, folder: Path) -> None:
        """Use (and create) the two folders inside `folder`."""
        super().__init__(folder)
        self.record = folder
        self.folder = folder / "originals"
        self.folder.mkdir(parents=True, exist_ok=True)

    def kept(self, sha256: str) -> KeptOriginal:
        """See `Originals.kept`."""
        return KeptOriginal(sha256=sha256, path=self.folder / checked_hash(sha256)[:2] / sha256)

    def state(self, sha256: str) -> State:
        """See `Originals.state`."""
        return state_of(self.kept(sha256).path, sha256)

    def strays(self, known: Container[str]) -> Iterator[str]:
        """See `Originals.strays`."""
        for path in sorted(path for path in self.folder.rglob("*") if not path.is_dir()):
            if path.name not in known or self.kept(path.name).path != path:
                yield str(path)

    def shared_file(self, name: str) -> Path:
        """See `Originals.shared_file`: the folder is the place that all share."""
        return self.record / name

    def share(self, name: str) -> None:
        """See `Originals.share`: nothing to do."""

    def _name(self, unfinished: Path, kept: Kept) -> None:
        place = self.kept(kept.sha256).path
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
