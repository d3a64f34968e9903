"""What a piece of work is called on plans, quotes and invoices."""

from __future__ import annotations

from collections.abc import Mapping

from defectmap.words.sentence_tables import words_table
from defectmap.words.writer import ENGLISH, Writer

WORK: Mapping[str, str] = words_table("work")


def work_words(what: str, detail: str = "", *, writer: Writer = ENGLISH) -> str:
    """A piece of work in words.

    Examples
    --------
    >>> work_words("correct", "medium polish"), work_words("wash")
    ('Correct: medium polish', 'Wash')
    """
    words = writer.term(WORK.get(what, what))
    return f"{words}: {writer.term(detail)}" if detail else words
