"""What was done to the panels, what the film allows, and why something was left, in words from the record."""

from __future__ import annotations

from collections.abc import Sequence

from defectmap.record.advise import PanelAdvice
from defectmap.report.content import FilmEntry, StepEntry
from defectmap.trade.facts import PanelHistory, StepRecord
from defectmap.trade.table_forms import Range
from defectmap.trade.tables import TradeTables
from defectmap.words.remark import Remark
from defectmap.words.report_words import counted, listed, plain_words
from defectmap.words.trade_words import told, told_all

_KINDS = {
    "wash": "Washed",
    "decontaminate": "Decontaminated",
    "wipe": "Wiped with solvent, so that oils hide nothing",
    "fill": "Filler or glaze applied (hides marks, removes none)",
    "protect": "Protected",
}


def step_entries(histories: Sequence[PanelHistory], tables: TradeTables) -> tuple[StepEntry, ...]:
    """Steps in order of time; the same step on several panels stands in one line.

    Parameters
    ----------
    histories : sequence of PanelHistory
        Of every panel of the job.
    tables : TradeTables
        Names of the correction steps.
    """
    grouped: dict[tuple[str, str], list[tuple[StepRecord, str]]] = {}
    for history in histories:
        for step in history.steps:
            grouped.setdefault((_what(step, tables), _takes(step)), []).append(
                (step, plain_words(history.panel.name))
            )
    in_time = sorted(grouped.items(), key=lambda item: min(step.at for step, _ in item[1]))
    return tuple(
        StepEntry(
            what=what,
            panels=_panels([name for _, name in done], len(histories)),
            when=_days([step.at[:10] for step, _ in done]),
            takes=takes,
        )
        for (what, takes), done in in_time
    )


def film_entry(state: PanelAdvice) -> FilmEntry:
    """Film thickness and budget of one panel."""
    thickness, budget = state.thickness, state.budget
    readings = sum(len(place.readings_um) for place in thickness.places)
    return FilmEntry(
        panel=plain_words(budget.panel),
        thinnest=_um(thickness.minimum_um),
        mean=_um(thickness.mean_um),
        readings=f"{counted(readings, 'reading')} at {counted(len(thickness.places), 'place')}",
        spent=_range(budget.spent_um),
        allowed=f"{budget.left_um:.0f} µm",
        remarks=tuple(dict.fromkeys(plain_words(remark) for remark in _customer(budget.remarks))),
    )


def why_left(state: PanelAdvice, tables: TradeTables) -> str:
    """Why the panel was not polished further, as far as the record says.

    Parameters
    ----------
    state : PanelAdvice
        Film and budget of the panel.
    tables : TradeTables
        The gentlest step.
    """
    budget, gentlest = state.budget, tables.ladder[0]
    takes = gentlest.removal_um.high * gentlest.sets
    left_um = f"{budget.left_um:.0f} µm"
    if not budget.read:
        why = "No film thickness of this panel is on record, so nothing says whether more may come off."
    elif budget.stop is not None:
        why = told(budget.stop, audience="customer")
    elif not budget.allows((gentlest, gentlest.sets)):
        why = (
            f"Left on purpose: the clear coat allows no further pass ({left_um} may still come off, the "
            f"gentlest pass may take {takes:g} µm)."
        )
    else:
        why = (
            f"By the readings, up to {left_um} more of clear coat may come off. It does not grow back, so "
            "it is kept for later years unless more is agreed."
        )
    if state.advice.action == "finish down" and budget.known:
        why = (
            f"A finishing pass is still to come. It may take up to {takes:g} µm of the {left_um} of "
            "clear coat that may still come off."
        )
    if state.advice.action == "stop: good enough":
        why = f"Within {state.limits.for_marks()}. {why}"
    if budget.read and state.thickness.remarks:
        why = f"{why} {' '.join(plain_words(remark) for remark in _customer(state.thickness.remarks))}"
    return why


def _customer(remarks: Sequence[Remark]) -> tuple[str, ...]:
    return told_all(remarks, audience="customer")


def _what(step: StepRecord, tables: TradeTables) -> str:
    words = _KINDS.get(step.kind, step.kind)
    if step.kind == "correct":
        name = next((rung.name for rung in tables.ladder if rung.key == step.rung), step.rung or "machine")
        where = "Test spot" if step.spot is not None else "Polished"
        passes = "" if step.passes == 1 else f", {step.passes} sets"
        words = f"{where}: {name}{passes}"
    elif step.spot is not None:
        words = f"{words} (test spot)"
    product = plain_words(step.product)
    return f"{plain_words(words)} ({product})" if product else plain_words(words)


def _takes(step: StepRecord) -> str:
    if step.kind != "correct":
        return ""
    return _range(Range(low=step.removal_low_um, high=step.removal_high_um))


def _panels(names: Sequence[str], count: int) -> str:
    once = list(dict.fromkeys(names))
    return f"all {count} panels" if count > 2 and len(once) == count else listed(once)


def _days(days: Sequence[str]) -> str:
    first, last = min(days), max(days)
    return first if first == last else f"{first} to {last}"


def _range(found: Range) -> str:
    return f"{found.low:g} to {found.high:g} µm" if found.high > 0 else ""


def _um(value: float | None) -> str:
    return "–" if value is None else f"{value:.0f} µm"
