"""Whether marks were removed, what hides them, and what a solvent wipe brought back: a sentence a code."""

from __future__ import annotations

from defectmap.words.remark import Table
from defectmap.words.sentence_tables import table

CLAIMS: Table = table("comparison claims")
REBOUND: Table = table("comparison rebound")
