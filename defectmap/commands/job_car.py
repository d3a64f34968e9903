"""The job commands around the car itself: damage, signatures, clocks, papers, what is remembered."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from defectmap.commands.job_shared import Job, Panel, day_of, known, record
from defectmap.commands.printing import say, table
from defectmap.errors import JobError
from defectmap.record.damages import add_damage, damages_of
from defectmap.record.finished_panels import finished_panels
from defectmap.record.jobs import change_job, close_job, job_named
from defectmap.record.results import tables_of
from defectmap.record.shop_style import screen_writer, shop_style
from defectmap.record.signatures import sign as keep_signature
from defectmap.record.thickness_entries import explain_reading, lowest_reading, unexplained_readings
from defectmap.record.vehicles import attach
from defectmap.record.worktimes import start_work
from defectmap.trade.damage import stays_because
from defectmap.trade.memory import experiences, reachable
from defectmap.words.counting import counted
from defectmap.words.trade_words import told

Kind = Annotated[
    str, typer.Argument(metavar="KIND", help="wash, decontaminate, correct, wipe, fill or protect.")
]


def change(
    ctx: typer.Context,
    job: Job,
    paint: Annotated[
        str | None, typer.Option(help="clear coat, single stage, matt, satin, film, wrap.")
    ] = None,
    vehicle: Annotated[str | None, typer.Option(help="What vehicle it is, in your words.")] = None,
    colour: Annotated[str | None, typer.Option(help="Body colour.")] = None,
    customer: Annotated[str | None, typer.Option(help="Reference of the customer.")] = None,
    of: Annotated[
        str | None, typer.Option("--of", metavar="VEHICLE", help="It is this vehicle's job.")
    ] = None,
    close: Annotated[bool, typer.Option("--close", help="Close the job.")] = False,
    reopen: Annotated[bool, typer.Option("--reopen", help="Open it again.")] = False,
) -> None:
    """Change what is known of a job; close it, or open it again."""
    changes = known(paint=paint, vehicle=vehicle, colour=colour, customer=customer)
    if not (changes or of is not None or close or reopen):
        raise JobError("Say what changes, such as --paint 'clear coat'.")
    with record(ctx) as store:
        if changes:
            change_job(store, job, seen_version=job_named(store, job).version, **changes)
        if of is not None:
            attach(store, job, of)
        if close or reopen:
            close_job(store, job_named(store, job).id, closed=close)
        found = job_named(store, job)
    said = ", ".join(filter(None, (found.kind, found.vehicle, found.colour, found.paint)))
    say(f"Job {found.reference}: {said}{', closed' if found.closed_at else ''}.")


def damage(
    ctx: typer.Context,
    job: Job,
    panel: Panel,
    kind: Annotated[
        str,
        typer.Argument(metavar="KIND", help="chip, dent, 'deep scratch', crack, stain, repaint or other."),
    ],
    words: Annotated[str, typer.Option(help="More about it, in your words.")] = "",
    photo: Annotated[Path | None, typer.Option(metavar="FILE", help="A photograph of it.")] = None,
    across: Annotated[float | None, typer.Option(metavar="0-1", help="Where on the plan, across.")] = None,
    down: Annotated[float | None, typer.Option(metavar="0-1", help="Where on the plan, down.")] = None,
    stays: Annotated[
        str | None, typer.Option(metavar="WHY", help="It is not corrected, and why; else by its kind.")
    ] = None,
) -> None:
    """Mark damage that the car came with."""
    at_plan = None if across is None or down is None else (across, down)
    with record(ctx) as store:
        added = add_damage(
            store, job, panel, kind, words=words, at_plan=at_plan, photograph=photo, stays=stays
        )
    why = stays_because(added)
    stays_on = "It is to be worked on." if why is None else f"It stays: {told(why)}"
    say(f"Marked a {kind} on {panel}. {stays_on}")


def damages(ctx: typer.Context, job: Job) -> None:
    """List the damage that the car came with, and why some of it stays."""
    with record(ctx) as store:
        found = damages_of(store, job)
    if not found:
        say("No damage is marked.")
        return
    rows = []
    for number, one in enumerate(found, start=1):
        why = stays_because(one)
        photo = "yes" if one.sha256 else ""
        rows.append((number, one.panel, one.kind, one.words, photo, "" if why is None else told(why)))
    table(("number", "panel", "kind", "what", "photograph", "stays, because"), rows)


def sign(
    ctx: typer.Context,
    job: Job,
    what: Annotated[str, typer.Argument(metavar="WHAT", help="intake, pictures or hand-over.")],
    by: Annotated[str, typer.Option("--by", help="Who signed.")],
    words: Annotated[str, typer.Option(help="What was signed, as it stood there.")] = "",
    picture: Annotated[
        Path | None, typer.Option(metavar="FILE.png", help="The drawn signature; on paper if not given.")
    ] = None,
    refused: Annotated[bool, typer.Option("--refused", help="It was asked for and refused.")] = False,
) -> None:
    """Keep a customer's signature or consent; personal, and never exported unless asked."""
    try:
        drawn = None if picture is None else picture.read_bytes()
    except OSError as error:
        raise JobError(f"{picture} cannot be read ({error.strerror}); choose another file.") from error
    with record(ctx) as store:
        kept = keep_signature(store, job, what, words=words, signed_by=by, given=not refused, picture=drawn)
    say(f"Kept: {what}, {'given' if kept.given else 'refused'}{', on paper' if kept.on_paper else ''}.")


def start(
    ctx: typer.Context,
    job: Job,
    panel: Panel,
    kind: Kind,
    by: Annotated[str, typer.Option("--by", help="Who works.")] = "",
) -> None:
    """Start the clock for a step; entering the step stops it."""
    with record(ctx) as store:
        running = start_work(store, job, panel, kind, by=by)
    say(f"The clock runs: {kind} on {panel}{f', {running.by}' if running.by else ''}.")


def explain(
    ctx: typer.Context,
    job: Job,
    panel: Panel,
    place: Annotated[str, typer.Argument(metavar="PLACE", help="Place on the panel.")],
    why: Annotated[str, typer.Option(help="What makes its lowest reading low: an edge, a repair.")],
    every: Annotated[
        bool, typer.Option("--all", help="It explains every reading of this place, not the lowest alone.")
    ] = False,
) -> None:
    """Say what explains the lowest reading of a place; it stays in the record."""
    with record(ctx) as store:
        writer, explained = screen_writer(store), []
        left = len(unexplained_readings(store, job, panel, place))
        for _ in range(max(left, 1) if every else 1):
            lowest = lowest_reading(store, job, panel, place)
            explain_reading(store, job, lowest.id, why=why)
            explained.append(writer.film(lowest.value_um))
    said = f"{', '.join(explained)} {'is' if len(explained) == 1 else 'are'} explained ({why})"
    say(f"{panel}, {place}: {said}. Keep the machine off it.")
    if left > len(explained):
        more = counted(left - len(explained), "other reading")
        say(f"{more} there stand as they are; with --all they would be explained too.")


def memory(
    ctx: typer.Context, paint: Annotated[str, typer.Option(help="On this paint.")] = "clear coat"
) -> None:
    """Show what the shop's steps have achieved before, and over how many panels."""
    with record(ctx) as store:
        writer = screen_writer(store)
        names = {rung.key: rung.name for rung in tables_of(store).ladder}
        finished = finished_panels(store)
    found = experiences(finished, paint=paint)
    if not found:
        say(f"No panel of paint {paint!r} is corrected, wiped and measured yet.")
        return
    rows = [
        (
            ", then ".join(names.get(key, key) for key in one.steps),
            one.panels,
            f"{one.change_percent:+.0f} %",
            f"{one.change_range[0]:+.0f} to {one.change_range[1]:+.0f} %",
            "–" if one.minutes is None else f"{one.minutes:.0f}",
            writer.films(one.removal_um.low, one.removal_um.high),
        )
        for one in found
    ]
    table(("steps", "panels", "marks, median", "range", "minutes", "took"), rows)
    best = reachable(finished, paint=paint)
    if best is not None:
        density = writer.written(best.density_mm_per_cm2, ".2g density")
        say(f"Reached at best: {density}, over {counted(best.panels, 'panel')}.")


def paper(
    ctx: typer.Context,
    job: Job,
    kind: Annotated[str, typer.Argument(metavar="KIND", help="intake, quote, invoice or hand-over.")],
    file: Annotated[Path, typer.Argument(metavar="FILE.pdf", help="Paper to write.")],
    number: Annotated[str, typer.Option(help="Number of the invoice or quote, as your books have it.")] = "",
    protection: Annotated[str | None, typer.Option(metavar="KEY", help="Protection, by its key.")] = None,
    done_on: Annotated[
        str | None, typer.Option(metavar="DATE", help="Day on the paper; today if not given.")
    ] = None,
    feel: Annotated[
        str | None, typer.Option(help="For a quote: feel of the washed paint: smooth, slightly rough, rough.")
    ] = None,
) -> None:
    """Write a paper of the job: intake sheet, quote, invoice or hand-over sheet."""
    from defectmap.outputs import write_file
    from defectmap.report.car_papers import car_paper
    from defectmap.report.car_sheets import paper_pdf

    day = day_of(done_on) or date.today()
    with record(ctx) as store:
        content = car_paper(store, job, kind, day=day, number=number, protection=protection, feel=feel)
        style = shop_style(store)
    write_file(file, paper_pdf(content, style, made_on=day.isoformat()))
    say(f"Wrote {file}.")
    for what, panel in dict.fromkeys((one.what, one.panel) for one in content.untimed):
        say(f"Not charged, as no time was entered: {what} on {panel}.", error=True)
