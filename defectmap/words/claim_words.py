"""Whether marks were removed, what hides them, and what a solvent wipe brought back: a sentence a code."""

from __future__ import annotations

from defectmap.words.remark import Table

CLAIMS: Table = {
    "wiped": "Photographed after the solvent wipe, with no filler or protection on the paint.",
    "hiding unknown": (
        "Say 'less visible', not 'removed': the stage of the after photograph is not given, so marks "
        "may be hidden and not gone."
    ),
    "hiding as received": (
        "Say 'less visible', not 'removed': the after photograph is said to be as received, before any "
        "correction."
    ),
    "hiding washed": (
        "Say 'less visible', not 'removed': the after photograph is said to be only washed, not wiped "
        "with solvent."
    ),
    "hiding decontaminated": (
        "Say 'less visible', not 'removed': the after photograph is said to be only decontaminated, "
        "not wiped with solvent."
    ),
    "hiding test spot": (
        "Say 'less visible', not 'removed': the test spot was not wiped with solvent yet, and "
        "polishing oils hide marks."
    ),
    "hiding corrected": (
        "Say 'less visible', not 'removed': the paint was not wiped with solvent yet, and polishing "
        "oils hide marks."
    ),
    "hiding filled": (
        "Say 'less visible', not 'removed': a filler or glaze is on the paint, which hides marks "
        "without removing them."
    ),
    "hiding follow up": (
        "Say what shows now against hand-over, not 'removed': protection may be on the paint, and some of it "
        "hides marks."
    ),
    "hiding protected": (
        "Say 'less visible', not 'removed': protection is on the paint, and some of it hides marks "
        "without removing them."
    ),
    "dirt before": "The before photograph was taken before decontamination, so dirt may count in it.",
    "no wipe recorded": (
        "No solvent wipe is recorded after the last correction: polishing oils may hide marks."
    ),
    "filler recorded": "A filler is recorded: it hides marks, and a wipe does not surely take it off.",
    "protection recorded": "Protection was on the panel when the after photograph was taken.",
    "filled before": (
        "The before photograph shows paint with a filler or protection on it, which hides marks."
    ),
    "stage before unknown": "The stage of the before photograph is not given.",
}

REBOUND: Table = {
    "came back": (
        "Photographed before the wipe, visible marks had changed by {unwiped:+.0f} %, after it by "
        "{wiped:+.0f} %: {points:.0f} points came back ({low:.0f} to {high:.0f}), so oils or fillers "
        "had hidden marks."
    ),
    "nothing certain came back": (
        "Photographed before the wipe, visible marks had changed by {unwiped:+.0f} %, after it by "
        "{wiped:+.0f} %: nothing certain came back ({low:.0f} to {high:.0f} points)."
    ),
    "too little to say what came back": (
        "Photographed before the wipe, visible marks had changed by {unwiped:+.0f} %, after it by "
        "{wiped:+.0f} %: too little was seen to say what came back."
    ),
}
