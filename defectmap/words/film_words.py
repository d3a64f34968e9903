"""Sentences about films: what their figures are of, and why two of them may not be compared."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from defectmap.words.remark import Table
from defectmap.words.sentence_tables import table

FILMS_APART = (
    "Where a spot was filmed, the film counts: marks of all lamp places, with the share of directions that "
    "the sweep could show; not to be held against densities of single photographs. A film by itself is "
    "counted over its own zone; two compared in common directions, each direction over the area where both "
    "could show it, which usually reads more. The next step goes by photographs where there are any."
)
FILM_VERDICT_WORDS = {
    "yes": "These films can be compared",
    "with care": "These films can be compared, with care",
    "no": "These films cannot be compared",
}
BLIND_NOWHERE = "Everywhere, most directions could show."
FUSED = (
    "At each point the brightest light of all lamp places, the lamp's glow divided out; both films alike, "
    "nothing else done to either."
)
FILM_COUNTED = (
    "Marks of all lamp places in common directions: each direction of mark counts over the area where both "
    "films could show it. A film by itself is counted over its own zone and usually reads less; longest "
    "scratch and haze are of each film's own zone."
)
DOING = {  # what `measure_film` tells it is at
    "looking at frames": "looking at frames",
    "measuring frames": "measuring frames",
    "joining marks": "joining the marks",
}


FILM_REASONS: Table = table("film reasons")


def share_words(share: float | None) -> str:
    """How much of all directions a film could show.

    Examples
    --------
    >>> share_words(0.884)
    '88 % of all directions'
    """
    return "an unknown share of directions" if share is None else f"{100 * share:.0f} % of all directions"


def frames_words(film: Mapping[str, Any]) -> str:
    """How many frames count, of how many.

    Examples
    --------
    >>> frames_words({"used": [0, 2, 4], "frames": 90})
    '3 lamp places out of 90 frames'
    """
    return f"{len(film['used'])} lamp places out of {film['frames']} frames"
