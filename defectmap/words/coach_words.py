"""What the capture coach says (`trade/coach.py`): a sentence a code, places in a picture, verdicts."""

from __future__ import annotations

from collections.abc import Mapping

from defectmap.words.photo_words import WARNINGS
from defectmap.words.remark import Remark, Table, sentence
from defectmap.words.sentence_tables import table

PLACES: Table = table("places in a picture")
SIDES: Table = table("sides of a blind place")  # where the lamp should go as well, seen from a blind place
COACH: Table = {**table("coach"), **PLACES, **SIDES, "merged": WARNINGS["merged"]}
VERDICTS: Mapping[str, str] = {
    "good": "Good to use",
    "better": "Usable, could be better",
    "again": "Take it again",
}


def coached(remark: Remark) -> str:
    """The sentence of what the coach found.

    Examples
    --------
    >>> coached(Remark(code="shaken", values={"shaken": 40, "frames": 90}))
    '40 of 90 frames are shaken. Hold still, move only the lamp.'
    """
    return sentence(remark, COACH)


def place(x_share: float, y_share: float) -> Remark:
    """Where in a picture something lies, from its shares of width and height.

    Examples
    --------
    >>> [coached(place(x, y)) for x, y in ((0.2, 0.9), (0.5, 0.5), (0.9, 0.5))]
    ['lower left', 'the middle', 'the right']
    """
    down = "upper" if y_share < 1 / 3 else "lower" if y_share > 2 / 3 else ""
    along = "left" if x_share < 1 / 3 else "right" if x_share > 2 / 3 else ""
    return Remark(code=f"at {' '.join(filter(None, (down, along))) or 'middle'}")
