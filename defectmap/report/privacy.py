"""What leaves the shop: little unless it is asked for, and boxes that nobody can read any more.

Never in any report: places and serial numbers (`defectmap.panel.photo.exif` does not even read them, and
pictures are drawn anew without metadata), notes, prices. Only where asked for: the customer's name, names of
files (people put names and number plates into them).

A blur over a number plate or a face can be undone when its shape is known. Here each box becomes a few large
patches of their mean colour, so that what was written in it is no longer in the picture.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from defectmap.errors import DefectmapError
from defectmap.words.report_words import plain_words

PATCHES = (2, 4)  # rows, columns of a box: fewer than a plate has characters
MARGIN_SHARE = 0.05  # of the box, on each side: boxes are drawn tight


class BoxError(DefectmapError):
    """A box lies outside the picture or has no area."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BlurBox:
    """A box as shares of the upright picture's width and height, from the upper left corner."""

    left: float
    top: float
    right: float
    bottom: float

    def __post_init__(self) -> None:
        """Refuse a box that is none.

        Raises
        ------
        BoxError
            A side is not within 0 to 1, or the box has no area.
        """
        sides = (self.left, self.top, self.right, self.bottom)
        inside = all(math.isfinite(side) and 0 <= side <= 1 for side in sides)
        if not inside or self.left >= self.right or self.top >= self.bottom:
            raise BoxError(
                f"The box {', '.join(f'{side:g}' for side in sides)} is not valid: give left, top, right and "
                "bottom as shares of the picture from 0 to 1."
            )


def unreadable(rgb: NDArray[np.uint8], boxes: Sequence[BlurBox]) -> NDArray[np.uint8]:
    """Replace each box by a few patches of mean colour.

    Parameters
    ----------
    rgb : (H, W, 3) uint8 ndarray
        The upright picture; it is not changed.
    boxes : sequence of BlurBox
        What must not be read.

    Returns
    -------
    (H, W, 3) uint8 ndarray
        A copy where there are boxes, else the picture itself.
    """
    if not boxes:
        return rgb
    covered = rgb.copy()
    height, width = rgb.shape[:2]
    for box in boxes:
        rows = _span(box.top, box.bottom, height)
        columns = _span(box.left, box.right, width)
        _patch(covered[slice(*rows), slice(*columns)])
    return covered


def _span(start: float, stop: float, size: int) -> tuple[int, int]:
    margin = MARGIN_SHARE * (stop - start)
    first = max(0, math.floor((start - margin) * size))
    return first, max(first + 1, min(size, math.ceil((stop + margin) * size)))


def _patch(part: NDArray[np.uint8]) -> None:
    down, across = (min(count, size) for count, size in zip(PATCHES, part.shape[:2], strict=True))
    for band in np.array_split(np.arange(part.shape[0]), down):
        for run in np.array_split(np.arange(part.shape[1]), across):
            place = (slice(band[0], band[-1] + 1), slice(run[0], run[-1] + 1))
            part[place] = np.round(part[place].mean(axis=(0, 1))).astype(np.uint8)


@dataclass(frozen=True, slots=True, kw_only=True)
class PrivacyChoice:
    """What a person asked to be shown, and the boxes to be made unreadable."""

    customer: bool = False
    file_names: bool = False
    blurred: Mapping[str, Sequence[BlurBox]] = field(default_factory=dict)  # by SHA-256 of the photograph

    def covered(self, rgb: NDArray[np.uint8], sha256: str) -> NDArray[np.uint8]:
        """The picture of that photograph with its boxes unreadable; itself where it has none."""
        return unreadable(rgb, self.blurred.get(sha256, ()))


class Aliases:
    """Says a photograph's place where its file's name stood."""

    def __init__(self, choice: PrivacyChoice) -> None:
        """Start with no names known."""
        self.shown = choice.file_names
        self._known: dict[str, str] = {}

    def add(self, name: str, place: str) -> None:
        """From now on `name` is written as `place`, unless file names are shown."""
        if name and not self.shown:
            self._known[name] = place

    def plain(self, words: str) -> str:
        """Words as a report shows them: made plain, without names of files."""
        return plain_words(self.write(words))

    def details(self, found: Sequence[Mapping[str, Any]] | None) -> list[dict[str, Any]] | None:
        """Remarks of a result file, the words in their values made plain."""
        if found is None:
            return None
        return [
            {**one, "values": {k: self._plain(v) for k, v in (one.get("values") or {}).items()}}
            for one in found
        ]

    def _plain(self, value: Any) -> Any:
        return self.plain(value) if isinstance(value, str) else value

    def write(self, sentence: str) -> str:
        """The sentence without names of files."""
        # long names first: one name may be part of another
        for name in sorted(self._known, key=len, reverse=True):
            sentence = sentence.replace(name, self._known[name])
        return sentence
