"""The customer's words: names of figures, figures with as many digits as they are worth, names made plain."""

from __future__ import annotations

import math
from typing import Literal

from defectmap.words.filling import NONE
from defectmap.words.sentence_tables import words_table
from defectmap.words.writer import ENGLISH, Writer

ReportFigure = Literal[
    "density all", "density swirl", "density scratch", "density trail", "longest scratch", "haze", "score"
]
# Unicode characters that turn the direction of what follows: a name with one could rearrange a printed
# figure.
_TURNING = frozenset("\u200e\u200f\u061c\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")

IN_SHORT = words_table("how to read a report")
HOW, HOW_FILMS = words_table("how it was measured"), words_table("how films were measured")
UNSAID = words_table("what figures do not say")
NEVER, NEVER_WHY = words_table("never supported"), words_table("why never supported")
ADVERTISING = words_table("rules of advertising")


def figure_name(figure: ReportFigure, *, writer: Writer = ENGLISH) -> str:
    """What a customer reads for a figure.

    Examples
    --------
    >>> figure_name("density all")
    'Visible marks, all kinds'
    """
    return {
        "density all": writer.tell("Visible marks, all kinds"),
        "density swirl": writer.tell("Swirl marks"),
        "density scratch": writer.tell("Scratches"),
        "density trail": writer.tell("Buffer trails"),
        "longest scratch": writer.tell("Longest scratch"),
        "haze": writer.tell("Haze"),
        "score": writer.tell("Finish score"),
    }[figure]


def figure_unit(figure: ReportFigure, *, calibrated: bool = True, writer: Writer = ENGLISH) -> str:
    """Unit of a figure in the shop's choice; without a scale it says so.

    Examples
    --------
    >>> figure_unit("density all"), figure_unit("longest scratch", calibrated=False)
    ('mm/cm²', 'px (uncalibrated)')
    """
    if figure == "haze":
        return ""
    if figure == "score":
        return writer.tell("of 100")
    if figure == "longest scratch":
        return writer.length_unit if calibrated else writer.tell("px (uncalibrated)")
    return writer.density_unit if calibrated else writer.tell("px/100 px² (uncalibrated)")


def figure_words(
    figure: ReportFigure, value: float | None, *, calibrated: bool = True, writer: Writer = ENGLISH
) -> str:
    """A figure with as many digits as it is worth, in the unit that `figure_unit` names.

    Examples
    --------
    >>> figure_words("density all", 14.23), figure_words("density all", 0.418), figure_words("haze", 0.07123)
    ('14.2', '0.42', '0.071')
    """
    if value is None or not math.isfinite(value):
        return NONE
    if figure == "score":
        return writer.number(value, 0)
    if figure == "haze":
        return writer.number(value, 3)
    if figure == "longest scratch":
        if calibrated and writer.length_unit == "in":
            return writer.number(writer.length(value), 1)
        return writer.number(value, 0)
    shown = writer.density(value) if calibrated else value
    return writer.number(shown, 2 if abs(shown) < 1 else 1)


def plain_words(words: object) -> str:
    """One line of a name or a note with nothing in it that is not seen.

    Examples
    --------
    >>> plain_words("roof\\x1b[2J\\u202e  left\\n")
    'roof [2J left'
    """
    seen = "".join(
        " " if not c.isprintable() or c in _TURNING or "\ud800" <= c <= "\udfff" else c for c in str(words)
    )
    return " ".join(seen.split())
