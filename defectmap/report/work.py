"""What was done to the panels, what the film allows, and why something was left, in words from the record."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Sequence

from defectmap.record.advise import PanelAdvice
from defectmap.report.content import DamageEntry, FilmEntry, StepEntry
from defectmap.trade.damage import stays_because
from defectmap.trade.facts import DamageRecord, PanelHistory, StepRecord
from defectmap.trade.table_forms import Range
from defectmap.trade.tables import TradeTables
from defectmap.words.report_words import plain_words
from defectmap.words.trade_words import told, told_all
from defectmap.words.writer import ENGLISH, Writer

# Of all that there is to say about a film, what explains to its owner why something was left.
FOR_THE_CUSTOMER = ("unexplained low reading", "too thin", "thinner than usual", "paint cannot grow")


def step_entries(
    histories: Sequence[PanelHistory], tables: TradeTables, *, writer: Writer = ENGLISH
) -> tuple[StepEntry, ...]:
    """Steps in order of time; the same step on several panels stands in one line.

    A step that was done twice on a panel says so, and what it may have taken counts twice.

    Parameters
    ----------
    histories : sequence of PanelHistory
        Of every panel of the job.
    tables : TradeTables
        Names of the correction steps.
    writer : Writer, optional
        Of the shop.
    """
    grouped: dict[tuple[str, int, str], list[tuple[StepRecord, str]]] = defaultdict(list)
    for history in histories:
        words = [_what(step, tables, writer) for step in history.steps]
        times = Counter(words)
        for step, what in zip(history.steps, words, strict=True):
            same = [one for one, said in zip(history.steps, words, strict=True) if said == what]
            key = (what, times[what], _takes(same, writer))
            grouped[key].append((step, plain_words(writer.term(history.panel.name))))
    in_time = sorted(grouped.items(), key=lambda item: min(step.at for step, _ in item[1]))
    return tuple(
        StepEntry(
            what=what if count == 1 else writer.tell("{step}, {count} times", step=what, count=count),
            panels=_panels([name for _, name in done], len(histories), writer),
            when=_days([step.at for step, _ in done], writer),
            takes=takes,
        )
        for (what, count, takes), done in in_time
    )


def damage_entries(damages: Sequence[DamageRecord], *, writer: Writer = ENGLISH) -> tuple[DamageEntry, ...]:
    """The damage that stays, and why; what was to be worked on is left out."""
    found = []
    for damage in damages:
        why = stays_because(damage)
        if why is not None:
            what = ", ".join(filter(None, (writer.term(damage.kind), plain_words(damage.words))))
            said = told(why, audience="customer", writer=writer)
            found.append(
                DamageEntry(panel=plain_words(writer.term(damage.panel)), what=what, why=plain_words(said))
            )
    return tuple(found)


def film_entry(state: PanelAdvice, *, writer: Writer = ENGLISH) -> FilmEntry:
    """Film thickness and budget of one panel that was measured with a gauge."""
    thickness, budget = state.thickness, state.budget
    readings = sum(len(place.readings_um) for place in thickness.places)
    at = writer.tell_many("at {number} place", "at {number} places", len(thickness.places))
    number = writer.tell_many("{number} reading", "{number} readings", readings)
    return FilmEntry(
        panel=plain_words(writer.term(budget.panel)),
        thinnest=writer.film(thickness.minimum_um),
        mean=writer.film(thickness.mean_um),
        readings=f"{number} {at}",
        spent=_range(budget.spent_um, writer),
        allowed=writer.film(math.floor(budget.left_um)),
        remarks=told_all(budget.remarks, audience="customer", writer=writer),
    )


def why_left(state: PanelAdvice, tables: TradeTables, *, writer: Writer = ENGLISH) -> str:
    """Why the panel was not polished further, as far as the record says.

    A figure of clear coat is given only where this very panel has readings.

    Parameters
    ----------
    state : PanelAdvice
        Film and budget of the panel.
    tables : TradeTables
        The gentlest step.
    writer : Writer, optional
        Of the shop.
    """
    budget, gentlest = state.budget, state.surface.gentlest(tables.ladder)
    values = {
        "left": writer.film(math.floor(budget.left_um)),
        "takes": writer.film(gentlest.removal_um.high * gentlest.sets, 1),
    }
    if not budget.read:
        why = writer.tell(
            "No film thickness was measured here, so nothing says whether more could be polished off."
        )
    elif budget.stop is not None:
        why = told(budget.stop, audience="customer", writer=writer)
    elif not budget.allows((gentlest, gentlest.sets)):
        why = writer.tell(
            "Left on purpose: the clear coat allows no further step ({left} may still come off, the gentlest "
            "step may take {takes}).",
            **values,
        )
    elif state.advice.action == "finish down":
        why = writer.tell(
            "A finishing pass is still to come. It may take up to {takes} of the {left} of clear coat that "
            "may still come off.",
            **values,
        )
    else:
        why = writer.tell(
            "By the readings, up to {left} more of clear coat may come off. It does not grow back, so it is "
            "kept for later years unless more is agreed.",
            **values,
        )
    remarks = [one for one in state.thickness.remarks if budget.read and one.code in FOR_THE_CUSTOMER]
    return " ".join((why, *told_all(remarks, audience="customer", writer=writer)))


def _what(step: StepRecord, tables: TradeTables, writer: Writer) -> str:
    words = {
        "wash": writer.tell("Washed"),
        "decontaminate": writer.tell("Decontaminated"),
        "wipe": writer.tell("Wiped with solvent, so that oils hide nothing"),
        "fill": writer.tell("Filler or glaze applied (hides marks, removes none)"),
        "protect": writer.tell("Protected"),
    }.get(step.kind, step.kind)
    if step.kind == "correct":
        name = next((rung.name for rung in tables.ladder if rung.key == step.rung), step.rung or "machine")
        name = writer.term(name)
        words = (
            writer.tell("Polished: {step}", step=name)
            if step.spot is None
            else writer.tell("Polished on a test spot: {step}", step=name)
        )
        if step.sets != 1:
            words = writer.tell("{step}, {number} sets", step=words, number=step.sets)
    elif step.spot is not None:
        words = writer.tell("{step} (test spot)", step=words)
    product = plain_words(writer.term(step.product))
    return f"{plain_words(words)} ({product})" if product else plain_words(words)


def _takes(steps: Sequence[StepRecord], writer: Writer) -> str:
    """What these steps together may have taken off."""
    taken = [step for step in steps if step.kind == "correct"]
    low, high = (
        math.fsum(ends) for ends in ([s.removal_low_um for s in taken], [s.removal_high_um for s in taken])
    )
    return _range(Range(low=low, high=high), writer)


def _panels(names: Sequence[str], count: int, writer: Writer) -> str:
    once = list(dict.fromkeys(names))
    if count > 2 and len(once) == count:
        return writer.tell("all {count} panels", count=count)
    return writer.listed(once)


def _days(moments: Sequence[str], writer: Writer) -> str:
    first, last = writer.day(min(moments)), writer.day(max(moments))
    return first if first == last else writer.tell("{first} to {last}", first=first, last=last)


def _range(found: Range, writer: Writer) -> str:
    return writer.films(found.low, found.high) if found.high > 0 else ""
