"""How figures, changes and names are written for people; nothing here overstates a reduction by rounding."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from defectmap.report.content import ReportFigure

import math
import re
from collections.abc import Sequence

# Unicode characters that turn the direction of what follows: a name with one could rearrange a printed
# figure.
_TURNING = frozenset("\u200e\u200f\u061c\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
_COMMAND = re.compile(r"`defectmap[ `]")
NAMES: dict[ReportFigure, str] = {
    "density all": "Visible marks, all kinds",
    "density swirl": "Swirl marks",
    "density scratch": "Scratches",
    "density trail": "Buffer trails",
    "longest scratch": "Longest scratch",
    "haze": "Haze",
    "score": "Finish score",
}


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


def without_commands(sentence: str) -> str:
    """Leave out of a sentence the clauses that tell the shop to run a command: a report's reader has none.

    Clauses are parted by semicolons; a sentence that is nothing but such a clause is left out whole.

    Examples
    --------
    >>> without_commands("It is assumed; run `defectmap repeat` to know it.")
    'It is assumed.'
    >>> without_commands("Run `defectmap job measure` first.")
    ''
    """
    clauses = sentence.split(";")
    left = [clause for clause in clauses if not _COMMAND.search(clause)]
    if len(left) == len(clauses):
        return sentence
    kept = ";".join(left).strip()
    return kept if not kept or kept.endswith((".", "!", "?")) else f"{kept}."


def figure_words(figure: ReportFigure, value: float | None) -> str:
    """A figure with as many digits as it is worth.

    Examples
    --------
    >>> figure_words("density all", 14.23), figure_words("density all", 0.418), figure_words("haze", 0.07123)
    ('14.2', '0.42', '0.071')
    """
    if value is None or not math.isfinite(value):
        return "–"
    if figure in ("longest scratch", "score"):
        return f"{value:.0f}"
    if figure == "haze":
        return f"{value:.3f}"
    return f"{value:.2f}" if abs(value) < 1 else f"{value:.1f}"


def percent(magnitude: float) -> str:
    """A percentage, whole except near a hundred, where rounding up would claim everything.

    Examples
    --------
    >>> percent(71.4), percent(99.6), percent(99.96), percent(100.0)
    ('71 %', '99.6 %', 'over 99.9 %', '100 %')
    """
    if 99 <= magnitude < 100:
        return "over 99.9 %" if magnitude > 99.9 else f"{math.floor(10 * magnitude) / 10:.1f} %"
    return f"{magnitude:.0f} %"


def change_words(change_percent: float) -> str:
    """A change in words.

    Examples
    --------
    >>> change_words(-71.4), change_words(12.0), change_words(0.2)
    ('71 % less', '12 % more', 'unchanged')
    """
    if abs(change_percent) < 0.5:
        return "unchanged"
    return f"{percent(abs(change_percent))} {'less' if change_percent < 0 else 'more'}"


def interval_words(interval: Sequence[float | None] | None) -> str:
    """A 95 % interval of a change in words; empty where there is none.

    Examples
    --------
    >>> interval_words((-77.0, -64.0))
    '64 to 77 % less'
    >>> interval_words((-10.0, 8.0))
    'from 10 % less to 8 % more'
    >>> interval_words((3.0, 22.0))
    '3 to 22 % more'
    >>> interval_words((-40.0, None))
    'from 40 % less, no upper bound'
    """
    if interval is None:
        return ""
    low, high = interval
    if low is None and high is None:
        return "no bounds"
    if low is None or high is None:
        known = change_words(low if low is not None else high)  # type: ignore[arg-type]
        return f"from {known}, no upper bound" if low is not None else f"up to {known}, no lower bound"
    if high <= 0 or low >= 0:
        near, far = sorted((abs(low), abs(high)))
        word = "less" if high <= 0 else "more"
        return f"{percent(near).removesuffix(' %')} to {percent(far)} {word}"
    return f"from {change_words(low)} to {change_words(high)}"


def counted(number: int, noun: str) -> str:
    """A number with its noun.

    Examples
    --------
    >>> counted(1, "panel"), counted(5, "panel")
    ('1 panel', '5 panels')
    """
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def listed(names: Sequence[str]) -> str:
    """Names in a sentence.

    Examples
    --------
    >>> listed(["bonnet", "roof", "boot lid"])
    'bonnet, roof and boot lid'
    """
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}" if names else ""


def day_words(moment: str | None) -> str:
    """The day and minute of an ISO 8601 moment, as it is written; a dash where there is none.

    Examples
    --------
    >>> day_words("2026-05-12T08:41:10.000000+00:00")
    '2026-05-12 08:41 UTC'
    >>> day_words("2026-05-12T08:41:10")
    '2026-05-12 08:41'
    """
    if not moment:
        return "–"
    utc = " UTC" if moment.endswith(("+00:00", "Z")) else ""
    return f"{moment[:10]} {moment[11:16]}{utc}".strip()
