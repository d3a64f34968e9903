"""What a piece of work is called on plans, quotes and invoices."""

from __future__ import annotations

from collections.abc import Mapping

from defectmap.words.writer import ENGLISH, Writer

WORK: Mapping[str, str] = {
    "wash": "Wash",
    "decontaminate": "Decontaminate",
    "inspect before": "Inspect and photograph before",
    "test spot": "Test spot",
    "correct": "Correct",
    "wipe": "Solvent wipe",
    "fill": "Filler or glaze",
    "inspect after": "Inspect and photograph after",
    "protect": "Protect",
    "material": "Material",
}


def work_words(what: str, detail: str = "", *, writer: Writer = ENGLISH) -> str:
    """A piece of work in words.

    Examples
    --------
    >>> work_words("correct", "medium polish"), work_words("wash")
    ('Correct: medium polish', 'Wash')
    """
    words = writer.term(WORK.get(what, what))
    return f"{words}: {writer.term(detail)}" if detail else words
