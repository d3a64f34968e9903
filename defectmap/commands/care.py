"""`defectmap care …`: the days on which something about a car is due."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from defectmap.commands.job_shared import Job, record, record_group
from defectmap.commands.printing import say, table
from defectmap.errors import NotInRecord
from defectmap.outputs import write_file
from defectmap.record.care_dates import add_care, calendar_file, care_of, plan_care, tick_care
from defectmap.record.results import tables_of
from defectmap.record.rows import checked_day
from defectmap.words.counting import counted
from defectmap.words.trade_words import CARE

app = record_group("Care dates: kept, listed by day, written as a calendar file.")
JobOption = Annotated[str | None, typer.Option("--job", metavar="JOB", help="Only of this job.")]
From = Annotated[str | None, typer.Option("--from", metavar="DATE", help="From this day on.")]
Until = Annotated[str | None, typer.Option("--until", metavar="DATE", help="Up to this day.")]


@app.command("list")
def list_care(ctx: typer.Context, job: JobOption = None, since: From = None, until: Until = None) -> None:
    """List what is due, by day."""
    with record(ctx) as store:
        found = care_of(store, reference=job, since=_day(since), until=_day(until))
    if not found:
        say("Nothing is due.")
        return
    rows = [
        (one.day, one.vehicle, one.job, CARE[one.kind], one.words, (one.done_at or "")[:10], one.id[:8])
        for one in found
    ]
    table(("day", "vehicle", "job", "what", "", "done", "identity"), rows)


@app.command()
def plan(
    ctx: typer.Context,
    job: Job,
    protection: Annotated[str, typer.Option(metavar="KEY", help="Protection, by its key.")] = "sealant",
    done_on: Annotated[
        str | None, typer.Option(metavar="DATE", help="Day of hand-over; today if not given.")
    ] = None,
) -> None:
    """Keep the days that follow from a protection, in place of those planned before."""
    with record(ctx) as store:
        day = _day(done_on) or date.today()
        for one in plan_care(store, job, tables_of(store), protection=protection, done_on=day):
            say(f"{one.day}: {CARE[one.kind]} ({one.words})")


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
        found = [one.id for one in care_of(store) if one.id.startswith(care)]
        if len(found) != 1:
            raise NotInRecord(f"{len(found)} care dates begin with {care!r}; give more of the identity.")
        one = tick_care(store, found[0])
    say(f"Done: {one.kind}, {one.day}.")


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
            for one in care_of(store, reference=job, since=_day(since), until=_day(until))
            if one.done_at is None
        ]
        titles = [": ".join(filter(None, (one.vehicle or one.job, CARE[one.kind]))) for one in found]
        content = calendar_file(found, titles, made_at=store.clock())
    write_file(file, content)
    say(f"Wrote {counted(len(found), 'date')} to {file}.")


def _day(words: str | None) -> date | None:

    return None if words is None else date.fromisoformat(checked_day(words))
