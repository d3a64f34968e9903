"""Files from a browser into the record: checked before anything is kept, each at its place at once."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from defectmap.errors import DefectmapError, PhotoError
from defectmap.record.intake import Place, add_photograph
from defectmap.record.sorting import guess_place

if TYPE_CHECKING:
    from defectmap.panel.photo.fileheader import FileHeader
    from defectmap.record.store import Store
    from defectmap.trade.facts import PhotographRecord

FILMS = ("mp4", "mov", "m4v", "webm")
KINDS = ("jpg", "jpeg", "png", "heic", "heif", "hif", "tif", "tiff", "webp", *FILMS)
MOST_FILES, MOST_MEGABYTES = 60, 80
LONGEST_NAME = 120


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """What became of one file; `problem` says why it was not taken in."""

    name: str
    photograph: PhotographRecord | None = None
    size_px: tuple[int, int] = (0, 0)  # width and height as the file says
    new: bool = False
    problem: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """Where photographs go that do not say so themselves."""

    panel: str
    stage: str
    spot: str = "1"
    px_per_mm: float | None = None
    field_width_mm: float | None = None
    by_name: bool = False  # let panel, stage and spot in a file's name come first


@contextmanager
def as_file(data: bytes, name: str) -> Iterator[Path]:
    """What was given as a file on the disk, while the block runs."""
    with tempfile.TemporaryDirectory(prefix="defectmap-") as folder:
        file = Path(folder) / name
        file.write_bytes(data)
        yield file


def take_in(
    store: Store,
    reference: str,
    name: str,
    data: bytes,
    aim: Aim,
    *,
    panels: Mapping[str, Iterable[str]] | None = None,
) -> Taken:
    """Keep one file as a photograph of the job.

    Parameters
    ----------
    name : str
        As the browser calls it; only its last part is used.
    panels : mapping, optional
        The job's panels to other words for them, for `aim.by_name`.
    """
    shown = tidy_name(name)
    try:
        size_px = check_given(data, shown)
        place = place_for(shown, aim, panels or {})
        with as_file(data, "upload") as file:
            added = add_photograph(store, reference, file, place, name=shown)
    except DefectmapError as error:
        return Taken(name=shown, problem=str(error))
    return Taken(name=shown, photograph=added.photograph, size_px=size_px, new=added.new)


def check_given(data: bytes, name: str) -> tuple[int, int]:
    """Refuse what is too large, or neither photograph nor film; width and height as a photograph says them.

    Raises
    ------
    PhotoError
        It is not taken in; the message says why.
    """
    from defectmap.film.container import is_film_data, read_film_head

    if not is_film_data(data[:16]):
        header = check_file(data, name)
        return header.width_px, header.height_px
    if len(data) > MOST_MEGABYTES * 1_000_000:
        raise PhotoError(
            f"{name} is {len(data) / 1e6:.0f} MB; the limit is {MOST_MEGABYTES} MB: film 10 to 20 seconds "
            "in 1080p, or add it at the command line."
        )
    with as_file(data, "film") as file:
        read_film_head(file, name=name)
    return 0, 0


def check_file(data: bytes, name: str) -> FileHeader:
    """Refuse what is too large or no photograph, from its first bytes.

    Raises
    ------
    PhotoError
        It is not taken in; the message says why.
    """
    from defectmap.panel.photo.head import check_large, read_head

    if len(data) > MOST_MEGABYTES * 1_000_000:
        raise PhotoError(
            f"{name} is {len(data) / 1e6:.0f} MB; the limit is {MOST_MEGABYTES} MB; save it as JPEG."
        )
    header, _ = read_head(data, name)
    check_large(header, name)
    return header


def too_many(name: str) -> str:
    """That a file is one too many."""
    return f"{name}: only {MOST_FILES} files are taken at once; give it again."


def place_for(name: str, aim: Aim, panels: Mapping[str, Iterable[str]]) -> Place:
    """Panel, stage and spot of a file, from its name where that is wanted and clear."""
    panel, stage, spot = aim.panel, aim.stage, aim.spot
    if aim.by_name:
        guess = guess_place([Path(name).stem], panels)
        panel, stage, spot = guess.panel or panel, guess.stage or stage, guess.spot or spot
    scale = {"px_per_mm": aim.px_per_mm, "field_width_mm": aim.field_width_mm}
    return Place(panel=panel, stage=stage, spot=spot, **scale)


def tidy_name(name: str) -> str:
    """The last part of a file's name, printable and not too long.

    Examples
    --------
    >>> tidy_name("C:\\\\photos\\\\door\\x07.jpg"), tidy_name("../../etc/x.jpg")
    ('door.jpg', 'x.jpg')
    """
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    clean = "".join(c for c in last if c.isprintable()).strip()
    if len(clean) > LONGEST_NAME:
        stem, dot, ending = clean.rpartition(".")
        clean = f"{stem[: LONGEST_NAME - len(ending) - 1]}{dot}{ending}" if dot else clean[:LONGEST_NAME]
    return clean or "photograph"


def move(store: Store, reference: str, photograph: PhotographRecord, place: Place) -> PhotographRecord:
    """Put a photograph at another place of the job; the record keeps that it stood elsewhere.

    Raises
    ------
    DefectmapError
        The new place is the old one, or is not in the job.
    """
    from defectmap.record.entries import set_aside
    from defectmap.record.panels import panels_of

    if place.panel not in {panel.name for panel in panels_of(store, reference)}:
        raise PhotoError(f"The job has no panel {place.panel}; add it on the car's page first.")
    original = store.originals.kept(photograph.sha256)
    if original.bring() != "whole":  # before it is taken from where it stands
        raise PhotoError(f"The kept original of {photograph.name} is not whole; run `defectmap job verify`.")
    set_aside(store, reference, "photograph", photograph.id, why="moved to another place")
    return add_photograph(store, reference, original.path, place, name=photograph.name).photograph
