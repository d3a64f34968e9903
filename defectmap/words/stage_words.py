"""The stages of the work in words, and what is usually done first and was not (`trade/stages.py`)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from defectmap.words.remark import Audience, Remark, Table, sentence
from defectmap.words.sentence_tables import table, words_table

MEANINGS: Mapping[str, str] = words_table("stages")  # what each stage is
GATES: Table = table("gates")


def told_gates(gates: Iterable[Remark], *, audience: Audience = "terminal") -> tuple[str, ...]:
    """The sentences of gates, each once.

    Examples
    --------
    >>> told_gates([Remark(code="no proof", values={"stage": "wiped"}), Remark(code="oils")])[1]
    'Polishing oils hide marks: only a photograph after the solvent wipe proves.'
    """
    said = (sentence(gate, GATES, audience=audience) for gate in gates)
    return tuple(dict.fromkeys(said))
