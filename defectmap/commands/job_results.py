"""The job commands that look, measure, plan, and hand over."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from defectmap.commands.job_shared import where

Job = Annotated[str, typer.Argument(metavar="JOB", help="The job's reference.")]
Json = Annotated[
    Path | None, typer.Option("--json", metavar="FILE", help="Write it as JSON; - is standard output.")
]
PanelOption = Annotated[str | None, typer.Option("--panel", metavar="NAME", help="Only this panel.")]
Setup = Annotated[
    str | None, typer.Option("--setup", metavar="NAME", help="Set-up whose repeatability is known.")
]


def status(
    ctx: typer.Context,
    job: Job,
    entries: Annotated[
        bool, typer.Option("--entries", help="List every photograph, reading and step with its identity.")
    ] = False,
    json_file: Json = None,
) -> None:
    """Show a job at a glance: photographs, results and warnings, panel by panel."""
    from defectmap.commands import job_looking as results

    results.status(where(ctx), job, entries=entries, json_file=json_file)


def agree(
    ctx: typer.Context,
    job: Job,
    density: Annotated[
        float | None, typer.Option(metavar="N", help="Density of marks at most, in mm/cm².")
    ] = None,
    scratch: Annotated[float | None, typer.Option(metavar="MM", help="No scratch longer than this.")] = None,
    haze: Annotated[float | None, typer.Option(metavar="N", help="At most this haze.")] = None,
    trails: Annotated[
        float | None, typer.Option(metavar="N", help="Density of buffer trails at most, in mm/cm².")
    ] = None,
    replace: Annotated[
        bool, typer.Option("--replace", help="Clear every target not given here (default: keep it).")
    ] = False,
) -> None:
    """Change what was agreed with the customer as good enough; what held before stays in the record."""
    from defectmap.commands import job_entries as commands

    figures = {
        "density_mm_per_cm2": density,
        "longest_scratch_mm": scratch,
        "haze": haze,
        "trail_mm_per_cm2": trails,
    }
    commands.agree(where(ctx), job, figures, replace_all=replace)


def measure(
    ctx: typer.Context,
    job: Job,
    workers: Annotated[
        int, typer.Option(metavar="N", help="Number of processes; 0 uses one for each core.")
    ] = 0,
    renew: Annotated[
        bool, typer.Option("--renew", help="Also what another version measured; old results stay.")
    ] = False,
) -> None:
    """Measure every photograph of a job that has no result yet."""
    from defectmap.commands import job_looking as results

    raise typer.Exit(results.measure(where(ctx), job, workers=workers, renew=renew))


def compare(
    ctx: typer.Context,
    job: Job,
    panel: PanelOption = None,
    before: Annotated[str, typer.Option(metavar="STAGE", help="Stage of the first photographs.")] = (
        "decontaminated"
    ),
    after: Annotated[str, typer.Option(metavar="STAGE", help="Stage of the second.")] = "wiped",
    setup: Setup = None,
    json_file: Json = None,
) -> None:
    """Compare the panels of a job before and after; the results are kept."""
    from defectmap.commands import job_looking as results

    stages = (before, after)
    raise typer.Exit(
        results.compare(where(ctx), job, panel=panel, stages=stages, setup=setup, json_file=json_file)
    )


def next_step(
    ctx: typer.Context, job: Job, panel: PanelOption = None, setup: Setup = None, json_file: Json = None
) -> None:
    """Say the next step on each panel, least aggressive first, and why."""
    from defectmap.commands import job_looking as results

    results.next_step(where(ctx), job, panel=panel, setup=setup, json_file=json_file)


def budget(ctx: typer.Context, job: Job, json_file: Json = None) -> None:
    """Show what the clear coat of each panel still allows, and what is assumed."""
    from defectmap.commands import job_looking as results

    results.budget(where(ctx), job, json_file=json_file)


def plan(
    ctx: typer.Context,
    job: Job,
    correct: Annotated[
        list[str] | None,
        typer.Option(
            metavar="PANEL=STEP,…",
            help="Correction steps of a panel, or of 'all' (default: those advised).",
        ),
    ] = None,
    feel: Annotated[str, typer.Option(help="Feel of the washed paint: smooth, slightly rough, rough.")] = (
        "smooth"
    ),
    months: Annotated[float, typer.Option(metavar="N", help="Months since the last decontamination.")] = 12,
    protection: Annotated[str, typer.Option(metavar="KEY", help="Protection, by its key.")] = "sealant",
    done_on: Annotated[
        str | None, typer.Option(metavar="DATE", help="Day of hand-over, YYYY-MM-DD (default: today).")
    ] = None,
    json_file: Json = None,
) -> None:
    """Plan the whole job: work, time, quote, protection and its dates."""
    from defectmap.commands import job_plan as plancommand

    plancommand.plan(
        where(ctx),
        job,
        correct=correct or [],
        care=(feel, months),
        protection=protection,
        done_on=done_on,
        json_file=json_file,
    )


def export(
    ctx: typer.Context,
    job: Job,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="File to write; must not exist.")],
    with_customer: Annotated[
        bool, typer.Option("--with-customer", help="With the reference to the customer; else without.")
    ] = False,
) -> None:
    """Write a job with its photographs and results into one file.

    Whose vehicle it is, and signatures, stay in the record.
    """
    from defectmap.commands import job_looking as results

    results.export(where(ctx), job, file, with_customer=with_customer)


def import_file(
    ctx: typer.Context,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A file made by export.")],
    reference: Annotated[
        str | None, typer.Option("--as", metavar="JOB", help="Import it as a copy of this reference.")
    ] = None,
) -> None:
    """Take a job file into the record; nothing there is overwritten."""
    from defectmap.commands import job_looking as results

    results.import_file(where(ctx), file, reference=reference)


def verify(
    ctx: typer.Context,
    job: Annotated[
        str | None, typer.Argument(metavar="[JOB]", help="The job (default: the whole record).")
    ] = None,
    again: Annotated[
        bool, typer.Option("--again", help="Also measure again what this version measured.")
    ] = False,
    json_file: Json = None,
) -> None:
    """Check every original against its hash and every result against what made it; changes nothing.

    Exit status 1 where something is wrong.
    """
    from defectmap.commands import job_looking as results

    raise typer.Exit(results.verify(where(ctx), job, again=again, json_file=json_file))


def tables(
    ctx: typer.Context,
    copy: Annotated[
        bool, typer.Option("--copy", help="Put a copy to edit into the record's folder.")
    ] = False,
) -> None:
    """Check the trade tables and show the correction steps; every error is shown with its place."""
    from defectmap.commands import job_looking as results

    results.tables(where(ctx), copy=copy)


def register(app: typer.Typer) -> None:
    """Add these commands to the group."""
    app.command()(status)
    app.command()(agree)
    app.command()(measure)
    app.command()(compare)
    app.command("next")(next_step)
    app.command()(budget)
    app.command()(plan)
    app.command()(export)
    app.command("import")(import_file)
    app.command()(verify)
    app.command()(tables)
