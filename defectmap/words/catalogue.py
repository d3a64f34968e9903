"""All that is translated beside what stands in the code: tables of sentences by subject, and the guide."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from defectmap.words import (
    claim_words,
    comparison_words,
    figure_words,
    guide,
    photo_words,
    report_words,
    stage_words,
    trade_words,
    work_words,
)
from defectmap.words.remark import Table, Wording

TABLES: Mapping[str, Table] = {
    "comparison reasons": comparison_words.REASONS,
    "comparison changes": comparison_words.CHANGES,
    "comparison claims": claim_words.CLAIMS,
    "comparison rebound": claim_words.REBOUND,
    "comparison warnings": comparison_words.WARNINGS,
    "crops": comparison_words.CROPS,
    "photograph warnings": photo_words.WARNINGS,
    "film thickness": trade_words.FILM,
    "figures": figure_words.FOUND,
    "aims": figure_words.AIMS,
    "surfaces": trade_words.SURFACE,
    "next step": trade_words.STEPS,
    "damage": trade_words.DAMAGE,
    "alternatives": trade_words.ALTERNATIVES,
    "cautions": trade_words.CAUTIONS,
    "times of protection": trade_words.TIMES,
    "care": trade_words.CARE,
    "work": work_words.WORK,
    "gates": stage_words.GATES,
    "how to read a report": report_words.IN_SHORT,
    "how it was measured": report_words.HOW,
    "how films were measured": report_words.HOW_FILMS,
    "what figures do not say": report_words.UNSAID,
    "never supported": report_words.NEVER,
    "why never supported": report_words.NEVER_WHY,
    "rules of advertising": report_words.ADVERTISING,
}


def messages_of(table: Table) -> Iterator[str]:
    """What a customer reads of a table: the sentences, without what page and terminal are told to do."""
    for wording in table.values():
        yield wording.says if isinstance(wording, Wording) else wording


def guide_messages() -> Iterator[str]:
    """Every sentence of the printed guide."""
    yield from (guide.TITLE, guide.OTHER_SIDE, guide.FILL_IN, *guide.NOTES, *guide.LABELS)
    for section in guide.SECTIONS:
        yield section.heading
        for item in section.items:
            yield from (item.lead, item.words)
