"""`defectmap job plan`: what is wanted from the command line, the plan on the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Any, cast

from defectmap.commands.job_entries import ALL, record
from defectmap.commands.job_shared import Where
from defectmap.commands.printing import STANDARD_OUTPUT, say, table, write_json
from defectmap.errors import JobError
from defectmap.record.advise import PanelAdvice
from defectmap.record.jobs import job_named, panels_of
from defectmap.record.results import advise, tables_of
from defectmap.trade.plan import JobPlan, Wanted, plan_job
from defectmap.trade.quoting import QuoteLine
from defectmap.trade.table_forms import Rung
from defectmap.trade.tables import TradeTables
from defectmap.words.counting import counted
from defectmap.words.trade_words import told, told_all

Corrections = dict[str, list[tuple[Rung, int]]]


def plan(
    place: Where,
    reference: str,
    *,
    correct: Sequence[str],
    care: tuple[str, float],
    protection: str,
    done_on: str | None,
    json_file: Path | None,
) -> None:
    """Plan a job and print it."""
    with record(place) as store:
        trade = tables_of(store)
        found = advise(store, reference)
        panels = panels_of(store, reference)
        corrections = _corrections(correct, [panel.name for panel in panels], trade)
        wanted = Wanted(
            feel=cast(Any, care[0]),
            months_since=care[1],
            corrections=corrections if correct else _advised(found, trade),
            protection=protection,
            done_on=_day(done_on),
            paint=job_named(store, reference).paint,
        )
        made = plan_job(panels, [one.budget for one in found], wanted, trade)
    write_json(made, json_file)
    if json_file != STANDARD_OUTPUT:
        print_plan(made)


def print_plan(plan: JobPlan) -> None:
    """Print work, stops, quote, upkeep and the hand-over list."""
    table(("work", "panel", "minutes"), [(w.what, w.panel or "", f"{w.minutes:.0f}") for w in plan.work])
    say(f"Altogether {plan.minutes / 60:.1f} h.")
    for panel, correction in plan.corrections.items():
        if correction.stopped:
            reason = "" if correction.reason is None else told(correction.reason)
            say(f"{panel}: the plan stops. {reason}")
    for sentence in told_all([a for c in plan.corrections.values() for a in c.alternatives]):
        say(f"  {sentence}")
    quote = plan.quote
    if quote.priced:
        rows = [(line.what, amount_of(line), line.amount) for line in quote.lines]
        table(("quote", "", quote.currency), rows)
        say(f"Net {quote.net}, tax {quote.tax}, total {quote.total} {quote.currency}.")
    else:
        say("No prices: enter your rates in the trade tables (`defectmap job tables --copy`).")
    care = plan.upkeep
    kind = care.protection
    say(
        f"{kind.name.capitalize()}: level or wipe off after {kind.level_minutes.low:g} to "
        f"{kind.level_minutes.high:g} minutes, keep dry for {kind.keep_dry_hours:g} hours, no washing for "
        f"{kind.no_wash_days:g} days ({kind.source})."
    )
    if care.checks:
        say(f"Look at it on {', '.join(day.isoformat() for day in care.checks)}.")
    say(f"Renew it between {care.renew_from} and {care.renew_until} (common practice, no source).")
    for line in plan.hand_over:
        say(f"Hand-over: {line}")
    for caution in told_all(plan.cautions):
        say(f"Caution: {caution}")


def amount_of(line: QuoteLine) -> str:
    """Hours or pieces of a line."""
    if line.hours is not None:
        return f"{line.hours} h"
    return "" if line.pieces is None else counted(line.pieces, "panel")


def _corrections(
    words: Sequence[str], panels: Sequence[str], trade: TradeTables
) -> dict[str, list[tuple[Rung, int]]]:
    found: dict[str, list[tuple[Rung, int]]] = {}
    for word in words:
        name, equals, keys = word.partition("=")
        if not equals or not keys.strip():
            raise JobError(f"{word!r} is not PANEL=STEP; write bonnet=finish, or all=medium,finish.")
        steps = [(trade.rung(key.strip()), trade.rung(key.strip()).sets) for key in keys.split(",")]
        for panel in panels if name.strip() == ALL else [name.strip()]:
            found[panel] = steps
    return found


def _advised(found: Sequence[PanelAdvice], trade: TradeTables) -> Corrections:
    """The step that is advised for each panel, with finishing down where it leaves haze or buffer trails."""
    corrections: Corrections = {}
    for one in found:
        rung = one.advice.rung
        if rung is not None:
            finish = [(trade.ladder[0], trade.ladder[0].sets)] if one.advice.finishing else []
            corrections[one.advice.panel] = [(rung, one.advice.sets), *finish]
    return corrections


def _day(words: str | None) -> date:
    if words is None:
        return date.today()
    try:
        return date.fromisoformat(words)
    except ValueError as error:
        raise JobError(f"{words!r} is not a valid date; write it as 2026-03-31.") from error
