"""Sentences of figures inside other sentences: a figure with its interval, and what it is held against.

The fields end in the shop's units (`film`, `length`, `density`; see `Writer.tell`).
"""

from __future__ import annotations

from collections.abc import Mapping

from defectmap.words.sentence_tables import words_table

FOUND: Mapping[str, str] = words_table("figures")
AIMS: Mapping[str, str] = words_table("aims")
