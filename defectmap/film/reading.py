"""Frames of a film file, or photographs taken with the lamp moved, one after another, never all at once."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from defectmap.errors import UnreadableFilm
from defectmap.film import frames_apart, tuning
from defectmap.film.container import is_film_file, read_film_head
from defectmap.outputs import FILM_SUFFIXES
from defectmap.panel.measurement import PhotoFacts
from defectmap.panel.photo import photograph
from defectmap.panel.photo.head import MIN_SIDE_PX

_CHUNK = 1 << 20


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Frame:
    """One upright frame."""

    number: int  # in the film, from 0
    rgb: NDArray[np.uint8]  # (H, W, 3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Film:
    """A file that OpenCV's reader opens; frames come upright, as its rotation flag says."""

    path: Path
    facts: PhotoFacts
    said_frames: int  # what the header says; 0 where it does not
    by_hand: bool = False  # whether each frame was placed anew, as photographs are

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.facts.height_px, self.facts.width_px

    def frames(self, wanted: Sequence[int] | None = None) -> Iterator[Frame]:
        """Frames in order, all or those wanted (rising); ends where the file does."""
        try:
            for number, rgb in frames_apart.read_frames(self.path, wanted):
                if rgb.shape[:2] == self.shape:
                    yield Frame(number=number, rgb=rgb)
        except (frames_apart.DecoderEnded, frames_apart.NoFrames) as error:
            raise _decoder_ended(self.facts.name) from error


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """Photographs of one spot with the lamp moved from one to the next: a film of few frames."""

    paths: tuple[Path, ...]
    facts: PhotoFacts  # of the first photograph
    by_hand: bool = True

    @property
    def said_frames(self) -> int:
        """How many photographs."""
        return len(self.paths)

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns of the first."""
        return self.facts.height_px, self.facts.width_px

    def frames(self, wanted: Sequence[int] | None = None) -> Iterator[Frame]:
        """Photographs in order; one of another size than the first is left out."""
        for number in range(len(self.paths)) if wanted is None else wanted:
            shot = photograph.load(self.paths[number])
            if shot.rgb.shape[:2] == self.shape:
                yield Frame(number=number, rgb=shot.rgb)


Source = Film | Series


def is_film(path: Path) -> bool:
    """Whether a file's name, or its first bytes, say that it is a film."""
    return path.suffix.lower() in FILM_SUFFIXES or is_film_file(path)


def open_film(path: Path, *, name: str | None = None) -> Film:
    """Open a film file and see whether it is whole.

    Parameters
    ----------
    name : str, optional
        What to call it; the file's name if not given.

    Raises
    ------
    UnreadableFilm
        See `container.read_film_head`; or of a coding that is not read, or with too large frames.
    """
    name = name or path.name
    said = read_film_head(path, name=name)
    try:
        head = frames_apart.read_head(path)
    except frames_apart.DecoderEnded as error:
        raise _decoder_ended(name) from error
    except frames_apart.NoFrames as error:
        raise UnreadableFilm(
            f"{name} is a film whose pictures cannot be read here; film again as H.264 "
            "(on many phones: most compatible), and copy the file whole."
        ) from error
    height, width = head.rows, head.columns
    if head.said_frames > tuning.MOST_FRAMES:
        raise UnreadableFilm(f"{name} has {head.said_frames} frames; film 10 to 20 seconds.")
    if height * width > tuning.MOST_FRAME_MEGAPIXELS * 1e6:
        raise UnreadableFilm(f"{name} has frames of {width} x {height} px; film in 1080p or 4K.")
    if min(height, width) < MIN_SIDE_PX:
        raise UnreadableFilm(
            f"{name} has frames of {width} x {height} px, too few to measure: the shorter side needs "
            f"{MIN_SIDE_PX}; send the phone's own file and not a messenger's copy."
        )
    facts = PhotoFacts(name=name, sha256=_hash(path), width_px=width, height_px=height, taken=said.taken)
    return Film(path=path, facts=facts, said_frames=head.said_frames)


def small_frame(path: Path, *, longest_side_px: int) -> NDArray[np.uint8]:
    """The first frame of a film, upright, no longer than asked for.

    Raises
    ------
    UnreadableFilm
        See `open_film`.
    """
    import cv2

    frame = next(open_film(path).frames([0]), None)
    if frame is None:
        raise UnreadableFilm(f"{path.name} is a film without pictures; film again.")
    height, width = frame.rgb.shape[:2]
    factor = min(1.0, longest_side_px / max(height, width))
    size = max(1, round(width * factor)), max(1, round(height * factor))
    return np.asarray(cv2.resize(frame.rgb, size, interpolation=cv2.INTER_AREA), np.uint8)


def open_series(paths: Sequence[Path]) -> Series:
    """Take photographs with the lamp moved as the frames of a film.

    Raises
    ------
    PhotoError
        The first cannot be read.
    """
    first = photograph.load(paths[0])
    return Series(paths=tuple(paths), facts=first.facts)


def _decoder_ended(name: str) -> UnreadableFilm:
    return UnreadableFilm(f"{name} is damaged: the decoder failed on it. Copy the file from the phone again.")


def _hash(path: Path) -> str:
    digest = hashlib.sha256()
    with path.open("rb") as file:
        while chunk := file.read(_CHUNK):
            digest.update(chunk)
    return digest.hexdigest()
