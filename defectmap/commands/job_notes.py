"""`defectmap job stage`, `note`, `checklist` and `set-aside`."""

from __future__ import annotations

from typing import Annotated, Any, cast

import typer

from defectmap.commands.job_shared import ALL, Job, Panel, record, warn
from defectmap.commands.printing import say, table
from defectmap.errors import JobError, NotInRecord
from defectmap.record.damages import damages_of
from defectmap.record.entries import enter_stage
from defectmap.record.entries import set_aside as set_entry_aside
from defectmap.record.notes import add_note, checklists_of, start_checklist, tick
from defectmap.record.panels import panels_of
from defectmap.record.results import tables_of
from defectmap.words.stage_words import told_gates


def stage(
    ctx: typer.Context,
    reference: Job,
    panel: Panel,
    name: Annotated[str, typer.Argument(metavar="STAGE", help="Stage that the panel enters.")],
) -> None:
    """Record that a panel enters a stage; warns of what is usually done first, and goes on."""
    with record(ctx) as store:
        names = [p.name for p in panels_of(store, reference)] if panel == ALL else [panel]
        for one in names:
            entered = enter_stage(store, reference, one, name)
            say(f"{one} is now {entered.stage}.")
            warn(told_gates(entered.warnings))


def note(
    ctx: typer.Context,
    reference: Job,
    words: Annotated[str, typer.Argument(metavar="WORDS", help="The note.")],
    panel: Annotated[str | None, typer.Option(help="About this panel.")] = None,
) -> None:
    """Keep a note."""
    with record(ctx) as store:
        add_note(store, reference, words, panel=panel)
        say("Noted.")


def checklist(
    ctx: typer.Context,
    reference: Job,
    start: Annotated[str | None, typer.Option(metavar="LIST", help="Start this list of the tables.")] = None,
    done: Annotated[int | None, typer.Option(metavar="N", help="Tick line N.")] = None,
    by: Annotated[str, typer.Option(help="Who ticks it.")] = "",
) -> None:
    """Show the checklists of a job, start one, tick a line."""
    with record(ctx) as store:
        if start is not None:
            lists = tables_of(store).checklists
            if start not in lists:
                raise JobError(f"The tables have no checklist {start!r}; they have {', '.join(lists)}.")
            start_checklist(store, reference, start, lists[start])
        lines = checklists_of(store, reference)
        if done is not None:
            if not 1 <= done <= len(lines):
                raise NotInRecord(f"Line {done} does not exist; the checklists have {len(lines)} lines.")
            tick(store, reference, lines[done - 1].id, by=by)
            lines = checklists_of(store, reference)
        if not lines:
            say("No checklist is started; see `defectmap job tables` for those there are.")
        rows = [(n, "x" if c.done_at else "", c.list_name, c.words) for n, c in enumerate(lines, start=1)]
        if rows:
            table(("line", "done", "list", "what"), rows)


def set_aside(
    ctx: typer.Context,
    reference: Job,
    what: Annotated[str, typer.Argument(metavar="WHAT", help="photograph, reading, step or damage.")],
    entry: Annotated[
        str,
        typer.Argument(
            metavar="ID",
            help="Its identity, as `status --entries` shows it; of damage the number in `damages`.",
        ),
    ],
    why: Annotated[str, typer.Option(help="Why; the record keeps it.")],
) -> None:
    """Remove an entry made by mistake from every figure; the record keeps it."""
    if what not in ("photograph", "reading", "step", "damage"):
        raise JobError(f"{what!r} cannot be set aside; name a photograph, a reading, a step or damage.")
    with record(ctx) as store:
        if what == "damage":
            numbered = {str(number): one for number, one in enumerate(damages_of(store, reference), start=1)}
            if entry not in numbered:
                raise NotInRecord(f"Job {reference} has no damage {entry}; see `defectmap job damages`.")
            entry = numbered[entry].id
        set_entry_aside(store, reference, cast(Any, what), entry, why=why)
        say(f"Set that {what} aside.")
