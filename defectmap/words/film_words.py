"""Sentences about films: what their figures are of, and why two of them may not be compared."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from defectmap.words.remark import Table

FILMS_APART = (
    "Where a spot was filmed, the film counts: marks of all lamp places, with the share of directions that "
    "the sweep could show; not to be held against densities of single photographs. The next step goes by "
    "photographs where there are any."
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
    "Marks in mm of line for each cm² of panel, of all lamp places, counted where both films could show "
    "their direction. Longest scratch and haze are of each film's own zone."
)
DOING = {  # what `measure_film` tells it is at
    "looking at frames": "looking at frames",
    "measuring frames": "measuring frames",
    "joining marks": "joining the marks",
}


FILM_REASONS: Table = {
    "film against photograph": (
        "The spot was filmed {side} and photographed the other time. A film shows marks of all lamp places "
        "and is compared with a film only: take the same kind both times."
    ),
    "films do not fit": (
        "The marks of the two films do not lie on each other ({sureness:.1f} times as many meet as by "
        "chance, at least {limit:g} are wanted): it is another place; film the same spot again."
    ),
    "films show few marks": (
        "One of the films shows too few marks to confirm that both are of one spot; compare "
        "photographs taken from one place instead."
    ),
    "films share few directions": (
        "Only {share:.0f} % of all places and directions of groove could be shown by both films (at "
        "least {limit:.0f} % are wanted); sweep the lamp over the whole spot both times."
    ),
    "films of two lamps": (
        "The lamp's reflection is {ratio:.2f} times as wide in one film as in the other (limit "
        "{limit:.2f}): use the same lamp at the same distance."
    ),
}


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
