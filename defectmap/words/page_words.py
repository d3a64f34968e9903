"""How the pages say things: names made harmless, figures with their units, scores in words."""

from __future__ import annotations

import re

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
    "follow up": "Follow-up, months later",
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
