"""The job commands around the car itself: damage, signatures, clocks, papers, what is remembered."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from defectmap.commands.job_shared import where

Job = Annotated[str, typer.Argument(metavar="JOB", help="The job's reference.")]
Panel = Annotated[str, typer.Argument(metavar="PANEL", help="Name of the panel.")]
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
    from defectmap.commands import job_car_printing as commands

    given = {"paint": paint, "vehicle": vehicle, "colour": colour, "customer": customer}
    changes = {key: value for key, value in given.items() if value is not None}
    commands.change(where(ctx), job, changes, of=of, closed=True if close else False if reopen else None)


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
    from defectmap.commands import job_car_printing as commands

    at_plan = None if across is None or down is None else (across, down)
    commands.damage(where(ctx), job, panel, kind, words=words, photo=photo, at_plan=at_plan, stays=stays)


def damages(ctx: typer.Context, job: Job) -> None:
    """List the damage that the car came with, and why some of it stays."""
    from defectmap.commands import job_car_printing as commands

    commands.damages(where(ctx), job)


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
    from defectmap.commands import job_car_printing as commands

    commands.sign(where(ctx), job, what, by=by, words=words, picture=picture, given=not refused)


def start(
    ctx: typer.Context,
    job: Job,
    panel: Panel,
    kind: Kind,
    by: Annotated[str, typer.Option("--by", help="Who works.")] = "",
) -> None:
    """Start the clock for a step; entering the step stops it."""
    from defectmap.commands import job_car_printing as commands

    commands.start(where(ctx), job, panel, kind, by=by)


def explain(
    ctx: typer.Context,
    job: Job,
    panel: Panel,
    place: Annotated[str, typer.Argument(metavar="PLACE", help="Place on the panel.")],
    why: Annotated[str, typer.Option(help="What makes its lowest reading low: an edge, a repair.")],
) -> None:
    """Say what explains the lowest reading of a place; it stays in the record."""
    from defectmap.commands import job_car_printing as commands

    commands.explain(where(ctx), job, panel, place, why=why)


def memory(
    ctx: typer.Context, paint: Annotated[str, typer.Option(help="On this paint.")] = "clear coat"
) -> None:
    """Show what the shop's steps have achieved before, and over how many panels."""
    from defectmap.commands import job_car_printing as commands

    commands.memory(where(ctx), paint)


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
) -> None:
    """Write a paper of the job: intake sheet, quote, invoice or hand-over sheet."""
    from defectmap.commands import job_car_printing as commands

    commands.paper(where(ctx), job, kind, file, number=number, protection=protection, done_on=done_on)


def register(app: typer.Typer) -> None:
    """Add these commands to the group."""
    for command in (change, damage, damages, sign, start, explain, memory, paper):
        app.command()(command)
