"""Where the command line writes: a file for each photograph, and never over a photograph."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from defectmap.errors import DefectmapError

PICTURE_SUFFIXES = frozenset(
    {".jpg", ".jpeg", ".jpe", ".png", ".tif", ".tiff", ".webp", ".heic", ".heif", ".hif", ".bmp"}
)


class OutputError(DefectmapError):
    """A result cannot be written where it was asked for."""


def find_photos(paths: Sequence[Path]) -> list[Path]:
    """Return the photographs named, a folder standing for the pictures directly inside it, in order of name.

    Raises
    ------
    OutputError
        A path does not exist, or a folder holds no picture.
    """
    photos: list[Path] = []
    for path in paths:
        if path.is_dir():
            inside = sorted(p for p in path.iterdir() if p.suffix.lower() in PICTURE_SUFFIXES and p.is_file())
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

    Raises
    ------
    OutputError
        A file to be written is one of the photographs.
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
    protect_photos([path for path in plan if path], photos)
    return plan


def protect_photos(outputs: Sequence[Path], photos: Sequence[Path]) -> None:
    """Raise `OutputError` where a file to be written is one of the photographs."""
    for path in outputs:
        if any(path.exists() and os.path.samefile(path, photo) for photo in photos):
            raise OutputError(f"{path} is one of the photographs; choose another name for the result.")


@contextmanager
def writing(path: Path) -> Iterator[None]:
    """Make the folder that a file goes into, and say in one sentence why the file cannot be written.

    Raises
    ------
    OutputError
        In place of any `OSError` inside the block.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        yield
    except OSError as error:
        reason = error.strerror or str(error)
        raise OutputError(f"{path} cannot be written ({reason}); choose another place.") from error


def _free(path: Path, taken: set[Path]) -> Path:
    """Number a second photograph of the same name."""
    free, number = path, 2
    while free in taken:
        free, number = path.with_name(f"{path.stem}-{number}{path.suffix}"), number + 1
    taken.add(free)
    return free
