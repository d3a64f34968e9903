"""All tables of sentences, by subject: what is translated, and where a code is looked up."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from defectmap.words import comparison_words
from defectmap.words.remark import Table, Wording

TABLES: Mapping[str, Table] = {
    "comparison reasons": comparison_words.REASONS,
    "comparison changes": comparison_words.CHANGES,
    "comparison claims": comparison_words.CLAIMS,
    "comparison rebound": comparison_words.REBOUND,
    "comparison warnings": comparison_words.WARNINGS,
    "crops": comparison_words.CROPS,
}


def messages_of(table: Table) -> Iterator[str]:
    """Every sentence and part of a sentence in a table."""
    for wording in table.values():
        if isinstance(wording, Wording):
            yield from (part for part in (wording.says, wording.page, wording.terminal) if part)
        else:
            yield wording
