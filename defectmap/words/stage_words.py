"""The stages of the work in words, and what is usually done first and was not (`trade/stages.py`)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from defectmap.words.remark import Audience, Remark, Table, sentence
from defectmap.words.writer import ENGLISH, Writer

MEANINGS: Mapping[str, str] = {  # what each stage is
    "as received": "before anything was done",
    "washed": "loose dirt is off",
    "decontaminated": "bonded dirt is off: the inspection that counts as before",
    "test spot": "one spot corrected and wiped, to choose the step",
    "corrected": "the panel is corrected, polishing oils still on it",
    "wiped": "oils wiped off with solvent: the inspection that counts as after",
    "filled": "a filler or glaze is on: marks are masked, not removed",
    "protected": "wax, sealant or coating is on",
    "follow up": "looked at again months later, washed and dry",
}

GATES: Table = {
    "no wash": "No wash is recorded: dirt may be counted as marks.",
    "no wash before clay": "No wash is recorded: loose grit drags under clay and mitt and makes new marks.",
    "not decontaminated": "No decontamination is recorded: bonded dirt may be counted as marks.",
    "not clean": "Washing and decontaminating are not both recorded: grit under a pad makes marks.",
    "no before": "There is no photograph of the stage '{stage}': nothing to compare with later.",
    "no thickness": "No place on this panel has {readings} film thickness readings: what the clear coat "
    "allows is not known.",
    "never polished": "Matt, satin, film and wrap are never polished: this cannot be undone.",
    "over protection": "Protection is on the panel: correcting now takes it off again.",
    "no test spot": "No test spot is recorded on this panel.",
    "no test spot yet": "No test spot is recorded on this panel: try the step on one spot first.",
    "gentler untried": "Gentler steps are untried on this panel ({rungs}): start with those.",
    "no correction": "No correction is recorded, yet the stage says {stage}.",
    "no wipe": "No solvent wipe is recorded since the last correction: oils may hide marks.",
    "oils": "Polishing oils hide marks: only a photograph after the solvent wipe proves.",
    "no filler": "No filler is recorded, yet the stage says filled.",
    "filler hides": "A filler hides marks: this photograph supports no claim of removal.",
    "filler will hide": "A filler hides marks: photographs from now on support no claim of removal.",
    "filler recorded": "A filler is recorded: no claim of removal can rest on this photograph.",
    "no protection": "No protection is recorded, yet the stage says protected.",
    "protection hides": "Protection can hide marks: this photograph supports no claim of removal.",
    "no proof": "There is no photograph of the stage '{stage}': once protection is on, removal can no longer "
    "be shown.",
    "kept": "{words}",  # as an earlier version kept it, a sentence without its code
}


def told_gates(
    gates: Iterable[Remark], *, audience: Audience = "terminal", writer: Writer = ENGLISH
) -> tuple[str, ...]:
    """The sentences of gates, each once.

    Examples
    --------
    >>> told_gates([Remark(code="no proof", values={"stage": "wiped"}), Remark(code="oils")])[1]
    'Polishing oils hide marks: only a photograph after the solvent wipe proves.'
    """
    said = (sentence(gate, GATES, audience=audience, writer=writer) for gate in gates)
    return tuple(dict.fromkeys(said))
