"""How the pages say things: names made harmless, figures with their units, scores in words."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Any

# Every character that Markdown, Streamlit's colour and icon marks or its formulas give a meaning to.
_MARKDOWN = re.compile(r"([\\`*_{}\[\]()<>#+\-.!|~$:&@^=])")
# Bands of the score: our own choice, as the score itself is (common practice, no source).
SCORE_BANDS = ((85.0, "clear"), (65.0, "lightly marked"), (40.0, "marked"), (0.0, "heavily marked"))
NOT_MEASURED = "not measured"
STAGE_WORDS = {
    "as received": "As received",
    "washed": "Washed",
    "decontaminated": "Decontaminated (before)",
    "test spot": "Test spot",
    "corrected": "Corrected, not wiped",
    "wiped": "Wiped (after)",
    "protected": "Protected",
}
VERDICT_WORDS = {
    "yes": "These photographs can be compared",
    "with care": "These photographs can be compared, with care",
    "no": "These photographs cannot be compared",
}


def plain(words: object) -> str:
    """Words that a person typed, made safe for any place where Markdown is read.

    A name may hold a link, a picture from elsewhere, colour marks or a formula; all of it is shown as typed.

    Examples
    --------
    >>> plain("![x](http://y)")
    '\\\\!\\\\[x\\\\]\\\\(http\\\\://y\\\\)'
    """
    return _MARKDOWN.sub(r"\\\1", " ".join(str(words).split()))


def score_words(score: float | None) -> str:
    """The band of a score in words.

    Examples
    --------
    >>> score_words(48.4), score_words(None)
    ('marked', 'not measured')
    """
    if score is None:
        return NOT_MEASURED
    return next(words for least, words in SCORE_BANDS if score >= least)


def change_words(change: Mapping[str, Any]) -> str:
    """One figure's change as a sentence part, with its interval or the reason why there is none.

    Parameters
    ----------
    change : mapping
        A figure of `compare --json`: `change_percent`, `ci95_percent`, `distinguishable`, `note`.

    Examples
    --------
    >>> change_words({"change_percent": -71.4, "ci95_percent": [-77.0, -64.0], "distinguishable": True})
    'reduced by 71 % (95 % interval 64 to 77 %)'
    """
    percent, interval = change.get("change_percent"), change.get("ci95_percent")
    at_least = change.get("at_least_percent")
    if at_least:
        return f"reduced by at least {math.floor(at_least)} %"
    if percent is None or at_least is not None:
        return str(change.get("note") or "no percentage can be given")
    word = "reduced" if percent < 0 else "risen"
    if interval is None:
        return f"{word} by {abs(percent):.0f} % (no interval)"
    low, high = sorted(interval)
    if not change.get("distinguishable"):
        return f"no change that can be told from chance (95 % interval {signed(low)} to {signed(high)} %)"
    ends = sorted((abs(low), abs(high)))
    return f"{word} by {abs(percent):.0f} % (95 % interval {ends[0]:.0f} to {ends[1]:.0f} %)"


def figure(value: float | None, unit: str = "", *, decimals: int = 1) -> str:
    """A figure with its unit, or a dash where there is none.

    Examples
    --------
    >>> figure(12.789, "mm/cm²"), figure(None)
    ('12.8 mm/cm²', '–')
    """
    if value is None:
        return "–"
    return f"{value:.{decimals}f}{' ' if unit else ''}{unit}"


def signed(value: float) -> str:
    """A whole number with its sign, the minus as printers write it.

    Examples
    --------
    >>> signed(-20.4), signed(18)
    ('−20', '+18')
    """
    return f"{'−' if value < 0 else '+'}{abs(value):.0f}"


def count(number: int, noun: str) -> str:
    """A number with its noun.

    Examples
    --------
    >>> count(1, "photograph"), count(3, "photograph"), count(2, "scratch")
    ('1 photograph', '3 photographs', '2 scratches')
    """
    if number == 1:
        return f"1 {noun}"
    return f"{number} {noun}{'es' if noun.endswith(('s', 'x', 'ch')) else 's'}"
