"""All tables of sentences, by subject: what is translated, and where a code is looked up."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from defectmap.words.remark import Table, Wording

TABLES: Mapping[str, Table] = {}


def messages_of(table: Table) -> Iterator[str]:
    """Every sentence and part of a sentence in a table."""
    for wording in table.values():
        if isinstance(wording, Wording):
            yield from (part for part in (wording.says, wording.page, wording.terminal) if part)
        else:
            yield wording
