"""Sentences about one photograph or film: what makes its figures less sure, and why it is refused."""

from __future__ import annotations

from collections.abc import Mapping

from defectmap.words.remark import Remark, Table, Value, sentence
from defectmap.words.sentence_tables import table
from defectmap.words.writer import ENGLISH, N_, Writer

WARNINGS: Table = table("photograph warnings")

# why too little of a picture can be counted, and what to do
CAUSES = {
    "bright": (
        N_("the paint is too bright there"),
        N_("expose less, or hold the lamp farther from the camera's mirror direction"),
    ),
    "far": (
        N_("it was taken from too far away"),
        N_("go nearer, until a millimetre spans 10 pixels or more"),
    ),
    "dark": (
        N_("the paint is too dark there"),
        N_("expose until the lamp's reflection is just white, or use a stronger lamp"),
    ),
    "noisy": (N_("the picture is too noisy"), N_("use a lower ISO and hold still, or bring more light")),
    "sparkle": (
        N_("the paint sparkles too much there"),
        N_("hold the camera steady and nearer, or film the spot while the lamp moves"),
    ),
}


def told(remark: Remark, *, writer: Writer = ENGLISH) -> str:
    """The sentence of a remark about a photograph or a film."""
    values = caused(remark.values, writer=writer)
    return sentence(Remark(code=remark.code, values=values), WARNINGS, writer=writer)


def caused(values: Mapping[str, Value], *, writer: Writer = ENGLISH) -> dict[str, Value]:
    """The values of a remark; a cause is put in words, with what to do about it."""
    found = dict(values)
    if found.get("cause") in CAUSES:
        cause, cure = (writer.tell(words) for words in CAUSES[str(found["cause"])])
        found |= {"cause": cause, "cure": cure, "Cure": cure[0].upper() + cure[1:]}
    return found
