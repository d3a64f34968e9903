"""What a comparison says: the sentence of each code of `defectmap.comparison`."""

from __future__ import annotations

from defectmap.words.film_words import FILM_REASONS
from defectmap.words.remark import Table
from defectmap.words.sentence_tables import table, words_table

REASONS: Table = {**table("comparison reasons"), **FILM_REASONS}
CHANGES: Table = table("comparison changes")
WARNINGS: Table = table("comparison warnings")
CROPS: Table = table("crops")
METHODS = words_table("what intervals rest on")
