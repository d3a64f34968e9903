"""What leaves the shop: little unless it is asked for.

Never in any report: places and serial numbers (`defectmap.panel.photo.exif` does not even read them, and
pictures are drawn anew without metadata), notes, prices. Only where asked for: the customer's name, names of
files (people put names and number plates into them).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from defectmap.report.blurring import BlurBox


@dataclass(frozen=True, slots=True, kw_only=True)
class PrivacyChoice:
    """What a person asked to be shown, and the boxes to be made unreadable."""

    customer: bool = False
    file_names: bool = False
    blurred: Mapping[str, Sequence[BlurBox]] = field(default_factory=dict)  # by SHA-256 of the photograph


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

    def write(self, sentence: str) -> str:
        """The sentence without names of files."""
        # long names first: one name may be part of another
        for name in sorted(self._known, key=len, reverse=True):
            sentence = sentence.replace(name, self._known[name])
        return sentence
