"""`defectmap job plan` and `agree`: what is wanted, and what was agreed as good enough."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Annotated, Any, cast

import typer

from defectmap.commands.job_shared import ALL, Job, Json, day_of, record
from defectmap.commands.printing import STANDARD_OUTPUT, say, table, write_json
from defectmap.errors import JobError
from defectmap.record.agreed import target_words
from defectmap.record.jobs import change_job, job_named
from defectmap.record.panels import panels_of
from defectmap.record.results import advise, tables_of
from defectmap.record.shop_style import screen_writer
from defectmap.trade.care import three_times
from defectmap.trade.facts import Target
from defectmap.trade.plan import (
    USUAL_FEEL,
    Corrections,
    JobPlan,
    Wanted,
    advised_corrections,
    not_settled,
    plan_job,
)
from defectmap.trade.quoting import QuoteLine
from defectmap.trade.tables import TradeTables
from defectmap.words.counting import counted
from defectmap.words.trade_words import told, told_all
from defectmap.words.work_words import work_words
from defectmap.words.writer import Writer


def plan(
    ctx: typer.Context,
    reference: Job,
    correct: Annotated[
        list[str] | None,
        typer.Option(
            metavar="PANEL=STEP,…", help="Correction steps of a panel, or of 'all' (default: those advised)."
        ),
    ] = None,
    feel: Annotated[str, typer.Option(help="Feel of the washed paint: smooth, slightly rough, rough.")] = (
        USUAL_FEEL
    ),
    months: Annotated[float, typer.Option(metavar="N", help="Months since the last decontamination.")] = 12,
    protection: Annotated[str, typer.Option(metavar="KEY", help="Protection, by its key.")] = "sealant",
    done_on: Annotated[
        str | None, typer.Option(metavar="DATE", help="Day of hand-over, YYYY-MM-DD (default: today).")
    ] = None,
    json_file: Json = None,
) -> None:
    """Plan the whole job: work, time, quote, protection and its dates."""
    with record(ctx) as store:
        trade = tables_of(store)
        found = advise(store, reference)
        panels = panels_of(store, reference)
        advised = [one.advice for one in found]
        corrections = _corrections(correct or (), [panel.name for panel in panels], trade)
        wanted = Wanted(
            feel=cast(Any, feel),
            months_since=months,
            corrections=corrections if correct else advised_corrections(advised),
            protection=protection,
            done_on=day_of(done_on) or date.today(),
            paint=job_named(store, reference).paint,
        )
        made = plan_job(panels, [one.budget for one in found], wanted, trade)
        writer = screen_writer(store)
    write_json(made, json_file)
    if json_file != STANDARD_OUTPUT:
        print_plan(made, writer)
        for one in () if correct else not_settled(advised):
            say(f"{one.panel}: no correction is planned yet; first: {one.action}.")


def agree(
    ctx: typer.Context,
    reference: Job,
    density: Annotated[
        float | None, typer.Option(metavar="N", help="Density of marks at most, in mm/cm².")
    ] = None,
    scratch: Annotated[float | None, typer.Option(metavar="MM", help="No scratch longer than this.")] = None,
    haze: Annotated[float | None, typer.Option(metavar="N", help="At most this haze.")] = None,
    trails: Annotated[
        float | None, typer.Option(metavar="N", help="Density of buffer trails at most, in mm/cm².")
    ] = None,
    replace_all: Annotated[
        bool, typer.Option("--replace", help="Clear every target not given here (default: keep it).")
    ] = False,
) -> None:
    """Change what was agreed with the customer as good enough; what held before stays in the record."""
    figures = {
        "density_mm_per_cm2": density,
        "longest_scratch_mm": scratch,
        "haze": haze,
        "trail_mm_per_cm2": trails,
    }
    given = {key: value for key, value in figures.items() if value is not None}
    if not given and not replace_all:
        raise JobError("Say what was agreed, such as --density 2, or --replace to clear what was agreed.")
    with record(ctx) as store:
        job = job_named(store, reference)
        target = replace(Target() if replace_all else job.target, **given)
        changed = change_job(store, reference, seen_version=job.version, target=target)
        writer = screen_writer(store)
        say(f"Good enough: {target_words(changed.target, writer=writer)}.")
        say(f"Before: {target_words(job.target, writer=writer)}.")


def print_plan(plan: JobPlan, writer: Writer) -> None:
    """Print work, stops, quote, upkeep and the hand-over list."""
    work = [(work_words(w.what, w.detail), w.panel or "", f"{w.minutes:.0f}") for w in plan.work]
    table(("work", "panel", "minutes"), work)
    say(f"Altogether {plan.minutes / 60:.1f} h.")
    for panel, correction in plan.corrections.items():
        if correction.stopped:
            reason = "" if correction.reason is None else told(correction.reason, writer=writer)
            say(f"{panel}: the plan stops. {reason}")
    for sentence in told_all([a for c in plan.corrections.values() for a in c.alternatives]):
        say(f"  {sentence}")
    quote = plan.quote
    if quote.priced:
        rows = [(work_words(line.what, line.detail), amount_of(line), line.amount) for line in quote.lines]
        table(("quote", "", quote.currency), rows)
        say(f"Net {quote.net}, tax {quote.tax}, total {quote.total} {quote.currency}.")
    else:
        say("No prices: enter your rates with `defectmap job shop --hour 60 --tax 19`.")
    care = plan.upkeep
    say(told(three_times(care.protection)))
    if care.checks:
        say(f"Look at it on {', '.join(writer.day(day) for day in care.checks)}.")
    between = f"{writer.day(care.renew_from)} and {writer.day(care.renew_until)}"
    say(f"Renew it between {between} ({care.protection.source}).")
    for line in plan.hand_over:
        say(f"Hand-over: {line}")
    for panel, remarks in plan.remarks.items():
        for remark in told_all(remarks, writer=writer):
            say(f"Mind {panel}: {remark}")
    for caution in told_all(plan.cautions, writer=writer):
        say(f"Caution: {caution}")


def amount_of(line: QuoteLine) -> str:
    """Hours or pieces of a line."""
    if line.hours is not None:
        return f"{line.hours} h"
    return "" if line.pieces is None else counted(line.pieces, "panel")


def _corrections(words: Sequence[str], panels: Sequence[str], trade: TradeTables) -> Corrections:
    found: Corrections = {}
    for word in words:
        name, equals, keys = word.partition("=")
        if not equals or not keys.strip():
            raise JobError(f"{word!r} is not PANEL=STEP; write bonnet=finish, or all=medium,finish.")
        steps = [(trade.rung(key.strip()), trade.rung(key.strip()).sets) for key in keys.split(",")]
        for panel in panels if name.strip() == ALL else [name.strip()]:
            found[panel] = steps
    return found
