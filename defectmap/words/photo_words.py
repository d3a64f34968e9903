"""What is to be known of one photograph: the sentence of each code of `defectmap.panel`."""

from __future__ import annotations

from defectmap.words.remark import Table

WARNINGS: Table = {}
