"""The sentences of the trade rules: advice, thickness, budget, cautions; the codes are those of `trade`.

Cautions name the usual dangers and defer to product labels, safety data sheets and local rules.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from defectmap.words.figure_words import AIMS, FOUND
from defectmap.words.remark import Audience, Remark, Table, sentence
from defectmap.words.sentence_tables import table, words_table
from defectmap.words.writer import ENGLISH, Writer

FILM: Table = table("film thickness")
SURFACE: Table = table("surfaces")
STEPS: Table = table("next step")
DAMAGE: Table = table("damage")
ALTERNATIVES: Table = table("alternatives")
CAUTIONS: Table = table("cautions")
TIMES: Table = table("times of protection")
CARE: Mapping[str, str] = words_table("care")  # what is due, by kind of care date

SENTENCES: Table = {
    code: words
    for subject in (FOUND, AIMS, FILM, SURFACE, STEPS, DAMAGE, ALTERNATIVES, CAUTIONS, TIMES)
    for code, words in subject.items()
}


def told(remark: Remark, *, audience: Audience = "terminal", writer: Writer = ENGLISH) -> str:
    """The sentence of a remark of the trade rules.

    Examples
    --------
    >>> told(Remark(code="too thin", values={"lowest_um": 71.0, "thin_um": 80.0}))
    '71 µm is below 80 µm: too thin for any machine.'
    """
    return sentence(remark, SENTENCES, audience=audience, writer=writer)


def told_all(
    remarks: Iterable[Remark], *, audience: Audience = "terminal", writer: Writer = ENGLISH
) -> tuple[str, ...]:
    """The sentences of several remarks, each once."""
    return tuple(dict.fromkeys(told(one, audience=audience, writer=writer) for one in remarks))
