"""`defectmap care …`: the days on which something about a car is due."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from defectmap.commands.job_shared import Job, day_of, known, record, record_group
from defectmap.commands.printing import say, table
from defectmap.errors import JobError, NotInRecord
from defectmap.outputs import write_file
from defectmap.record.care_dates import add_care, calendar_file, care_of, plan_care, tick_care
from defectmap.record.history import histories
from defectmap.record.results import tables_of
from defectmap.record.shop_style import screen_writer
from defectmap.record.shop_tables import drop_product, keep_product, put_on
from defectmap.trade.care import three_times
from defectmap.trade.table_forms import Range
from defectmap.words.counting import counted
from defectmap.words.trade_words import CARE, told

app = record_group("Care dates: kept, listed by day, written as a calendar file.")
JobOption = Annotated[str | None, typer.Option("--job", metavar="JOB", help="Only of this job.")]
From = Annotated[str | None, typer.Option("--from", metavar="DATE", help="From this day on.")]
SHOWN_ID = 6  # last digits of an identity: those are by lot
Until = Annotated[str | None, typer.Option("--until", metavar="DATE", help="Up to this day.")]


@app.command("list")
def list_care(ctx: typer.Context, job: JobOption = None, since: From = None, until: Until = None) -> None:
    """List what is due, by day."""
    with record(ctx) as store:
        found = care_of(store, reference=job, since=day_of(since), until=day_of(until))
        writer = screen_writer(store)
    if not found:
        say("Nothing is due.")
        return
    rows = [
        (
            writer.day(one.day),
            one.vehicle,
            one.job,
            CARE[one.kind],
            one.words,
            "" if one.done_at is None else writer.day(one.done_at),
            one.id[-SHOWN_ID:],
        )
        for one in found
    ]
    table(("day", "vehicle", "job", "what", "", "done", "identity"), rows)


@app.command()
def plan(
    ctx: typer.Context,
    job: Job,
    protection: Annotated[
        str | None,
        typer.Option(metavar="KEY", help="Protection, by its key (default: the product that was put on)."),
    ] = None,
    done_on: Annotated[
        str | None, typer.Option(metavar="DATE", help="Day of hand-over; today if not given.")
    ] = None,
) -> None:
    """Keep the days that follow from a protection, in place of those planned before."""
    with record(ctx) as store:
        day, tables, writer = day_of(done_on) or date.today(), tables_of(store), screen_writer(store)
        on = put_on([step for each in histories(store, job) for step in each.steps], tables)
        if protection is None and on is None:
            keys = ", ".join(kind.key for kind in tables.protection)
            raise JobError(f"No known protection is on this car; name it with --protection: {keys}.")
        key = protection or (on.key if on else "")
        for one in plan_care(store, job, tables, protection=key, done_on=day):
            say(f"{writer.day(one.day)}: {CARE[one.kind]} ({one.words})")


@app.command()
def product(
    ctx: typer.Context,
    name: Annotated[str, typer.Argument(metavar="NAME", help="What you call it; then say so in `job step`.")],
    kind: Annotated[str, typer.Option(help="What it is one of: wax, sealant or coating.")] = "",
    level: Annotated[
        tuple[float, float] | None,
        typer.Option(metavar="MIN MIN", help="Label: level or wipe off after so many minutes, from and to."),
    ] = None,
    dry: Annotated[
        float | None, typer.Option(metavar="HOURS", help="Label: keep dry for so many hours.")
    ] = None,
    unwashed: Annotated[
        float | None, typer.Option(metavar="DAYS", help="Label: no washing for so many days.")
    ] = None,
    life: Annotated[
        tuple[float, float] | None,
        typer.Option(metavar="MONTHS MONTHS", help="Label: lasts so many months, from and to."),
    ] = None,
    drop: Annotated[bool, typer.Option("--drop", help="Forget it.")] = False,
) -> None:
    """Keep a product for protection with the times from its label, once for every job."""
    given = known(
        level_minutes=None if level is None else Range(*sorted(level)),
        keep_dry_hours=dry,
        no_wash_days=unwashed,
        life_months=None if life is None else Range(*sorted(life)),
    )
    with record(ctx) as store:
        if drop:
            drop_product(store, name)
            say(f"Forgotten: {name}.")
            return
        kept = keep_product(store, tables_of(store), name, kind=kind, label=given)
    say(f"Kept {kept.name}. {told(three_times(kept))}")


@app.command()
def add(
    ctx: typer.Context,
    job: Job,
    day: Annotated[str, typer.Argument(metavar="DATE", help="The day, as 2026-11-30.")],
    kind: Annotated[
        str, typer.Option(help="wash again, look, follow-up, renew from, renew by, other.")
    ] = "other",
    words: Annotated[str, typer.Option(help="What is due, in your words.")] = "",
) -> None:
    """Keep one day."""
    with record(ctx) as store:
        one = add_care(store, job, day, kind, words=words)
    say(f"Kept {one.day}: {CARE[one.kind]} {one.words}".rstrip() + ".")


@app.command()
def done(
    ctx: typer.Context,
    care: Annotated[str, typer.Argument(metavar="ID", help="Its identity, as `care list` shows it.")],
) -> None:
    """Say that it was done."""
    with record(ctx) as store:
        found = [one.id for one in care_of(store) if one.id.endswith(care)]
        if len(found) != 1:
            raise NotInRecord(f"{len(found)} care dates are called {care!r}; see `defectmap care list`.")
        one = tick_care(store, found[0])
    say(f"Done: {CARE[one.kind]}, {one.day}.")


@app.command()
def calendar(
    ctx: typer.Context,
    file: Annotated[Path, typer.Argument(metavar="FILE.ics", help="Calendar file to write.")],
    job: JobOption = None,
    since: From = None,
    until: Until = None,
) -> None:
    """Write what is due as a calendar file (iCalendar); vehicles go by the name that the shop uses."""
    with record(ctx) as store:
        found = [
            one
            for one in care_of(store, reference=job, since=day_of(since), until=day_of(until))
            if one.done_at is None
        ]
        titles = [": ".join(filter(None, (one.vehicle or one.job, CARE[one.kind]))) for one in found]
        content = calendar_file(found, titles, made_at=store.clock())
    write_file(file, content)
    say(f"Wrote {counted(len(found), 'date')} to {file}.")
