"""`defectmap job …`: parse, call, print. Nothing heavy is imported until a command runs."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from defectmap.commands import job_car, job_looking, job_notes, job_plan, job_results
from defectmap.commands.job_shared import Job, Panel, RecordDatabase, RecordFolder, Where, where
from defectmap.commands.job_style import style

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_show_locals=False,
    help="Keep the job record: panels, stages, photographs, steps.",
    context_settings={"help_option_names": ["-h", "--help"]},
)


@app.callback()
def options(
    ctx: typer.Context,
    record: RecordFolder = None,
    database: RecordDatabase = None,
) -> None:
    """Keep the job record: panels, stages, photographs, steps."""
    ctx.obj = Where(folder=record, url=database)


@app.command()
def create(
    ctx: typer.Context,
    job: Job,
    kind: Annotated[str, typer.Option(help="car, van, motorcycle or boat: which standard panels.")] = "car",
    panel: Annotated[
        list[str] | None, typer.Option(metavar="NAME", help="Only these panels; repeat for several.")
    ] = None,
    customer: Annotated[str, typer.Option(help="A reference to the customer; need not be a name.")] = "",
    vehicle: Annotated[str, typer.Option(help="What vehicle it is, in your words.")] = "",
    colour: Annotated[str, typer.Option(help="Body colour.")] = "",
    paint: Annotated[
        str, typer.Option(help="clear coat, single stage, matt, satin, film, wrap or unknown.")
    ] = "unknown",
    of: Annotated[
        str | None, typer.Option("--of", metavar="VEHICLE", help="It is this vehicle's: see `vehicle add`.")
    ] = None,
    target_density: Annotated[
        float | None, typer.Option(metavar="N", help="Agreed: at most this density of marks, in mm/cm².")
    ] = None,
    target_haze: Annotated[float | None, typer.Option(metavar="N", help="Agreed: at most this haze.")] = None,
    target_scratch: Annotated[
        float | None, typer.Option(metavar="MM", help="Agreed: no scratch longer than this.")
    ] = None,
    target_trails: Annotated[
        float | None,
        typer.Option(metavar="N", help="Agreed: at most this density of buffer trails, in mm/cm²."),
    ] = None,
) -> None:
    """Create a job with its panels."""
    from defectmap.commands import job_entries as commands
    from defectmap.trade.facts import Target

    commands.create(
        where(ctx),
        job,
        kind=kind,
        only=panel or [],
        customer=customer,
        vehicle=vehicle,
        colour=colour,
        paint=paint,
        of=of,
        target=Target(
            density_mm_per_cm2=target_density,
            haze=target_haze,
            trail_mm_per_cm2=target_trails,
            longest_scratch_mm=target_scratch,
        ),
    )


@app.command("list")
def list_jobs(ctx: typer.Context) -> None:
    """List the jobs, the latest first."""
    from defectmap.commands import job_entries as commands

    commands.list_jobs(where(ctx))


@app.command("panel")
def panel_details(
    ctx: typer.Context,
    job: Job,
    panel: Panel,
    area: Annotated[float | None, typer.Option(metavar="M2", help="Area in m².")] = None,
    material: Annotated[
        str | None, typer.Option(help="steel, aluminium, plastic, composite or unknown.")
    ] = None,
    repainted: Annotated[str | None, typer.Option(help="no, yes or unknown.")] = None,
    clear_coat: Annotated[
        float | None, typer.Option(metavar="UM", help="Clear coat in µm, from a gauge that sees layers.")
    ] = None,
    catches_nail: Annotated[
        bool | None,
        typer.Option("--catches-nail/--no-catches-nail", help="It has a scratch that a fingernail catches."),
    ] = None,
    paint: Annotated[
        str | None, typer.Option(help="Where it differs from the car's: matt, film, wrap, …")
    ] = None,
    painted_on: Annotated[
        str | None, typer.Option("--painted-on", metavar="DATE", help="Day of a new paint, as 2026-03-31.")
    ] = None,
) -> None:
    """Add a panel, or say more about one."""
    from defectmap.commands import job_entries as commands

    details: dict[str, object] = {
        "area_m2": area,
        "material": material,
        "repainted": repainted,
        "clear_coat_um": clear_coat,
        "catches_nail": catches_nail,
        "paint": paint,
        "painted_on": painted_on,
    }
    known = {key: value for key, value in details.items() if value is not None}
    commands.panel(where(ctx), job, panel, known)


@app.command()
def photographs(
    ctx: typer.Context,
    job: Job,
    paths: Annotated[
        list[Path], typer.Argument(metavar="PATH", help="Photographs, or folders that are searched through.")
    ],
    panel: Annotated[str | None, typer.Option(help="Panel that all of them show.")] = None,
    stage: Annotated[str | None, typer.Option(help="Stage of all of them.")] = None,
    spot: Annotated[str | None, typer.Option(help="Spot that all of them show.")] = None,
    px_per_mm: Annotated[
        float | None, typer.Option("--px-per-mm", metavar="N", help="Scale of them all.")
    ] = None,
    field_width_mm: Annotated[
        float | None, typer.Option("--field-width-mm", metavar="W", help="Scale: mm across the picture.")
    ] = None,
    questions: Annotated[
        bool, typer.Option("--questions/--no-questions", help="Ask about what the names do not say.")
    ] = True,
) -> None:
    """Add photographs: panel, stage and spot from their names and folders, or by questions.

    The photographs are copied into the record unchanged; adding the same ones again does no harm.
    """
    from defectmap.commands import job_entries as commands

    commands.photographs(
        where(ctx),
        job,
        paths,
        given={"panel": panel, "stage": stage, "spot": spot},
        scale=(px_per_mm, field_width_mm),
        questions=questions,
    )


@app.command()
def readings(
    ctx: typer.Context,
    job: Job,
    panel: Panel,
    place: Annotated[str, typer.Argument(metavar="PLACE", help="Place on the panel, about 4 cm across.")],
    values: Annotated[list[float], typer.Argument(metavar="VALUE", help="At least three readings.")],
    unit: Annotated[str | None, typer.Option(help="um or mil (default: the shop's own).")] = None,
    stage: Annotated[
        str | None, typer.Option(help="Stage they were taken at (default: before, or after correction).")
    ] = None,
    again: Annotated[
        bool, typer.Option("--again", help="A second look, exactly where the lowest was read.")
    ] = False,
    sure: Annotated[bool, typer.Option("--sure", help="Unusual values are meant as they stand.")] = False,
) -> None:
    """Enter film thickness readings of one place."""
    from defectmap.commands import step_entries as commands

    entry = commands.ReadingEntry(unit=unit, stage=stage, again=again, sure=sure)
    commands.readings(where(ctx), job, panel, place, values, entry)


@app.command()
def shop(
    ctx: typer.Context,
    name: Annotated[str | None, typer.Option(help="Name to put on reports.")] = None,
    unit: Annotated[str | None, typer.Option(help="Unit of film thickness: um or mil.")] = None,
    lamp: Annotated[str | None, typer.Option(help="The inspection lamp, in your words.")] = None,
    camera: Annotated[str | None, typer.Option(help="The camera, in your words.")] = None,
    gauge_um: Annotated[
        float | None, typer.Option("--gauge-um", metavar="UM", help="The gauge is good to ±(this …")
    ] = None,
    gauge_percent: Annotated[
        float | None, typer.Option("--gauge-percent", metavar="%", help="… and this share of the reading).")
    ] = None,
    gauge_repeat_um: Annotated[
        float | None,
        typer.Option("--gauge-repeat", metavar="UM", help="It repeats within this at one place."),
    ] = None,
) -> None:
    """Show or change the settings of the shop."""
    from defectmap.commands import job_entries as commands

    gauge = {"gauge_um": gauge_um, "gauge_percent": gauge_percent, "gauge_repeat_um": gauge_repeat_um}
    given = {"name": name, "unit": unit, "lamp": lamp, "camera": camera, **gauge}
    commands.shop(where(ctx), {key: value for key, value in given.items() if value is not None})


app.command()(style)


@app.command()
def step(
    ctx: typer.Context,
    job: Job,
    panel: Panel,
    kind: Annotated[
        str, typer.Argument(metavar="KIND", help="wash, decontaminate, correct, wipe, fill or protect.")
    ],
    rung: Annotated[
        str | None, typer.Option(metavar="KEY", help="Correction step, as the trade tables call it.")
    ] = None,
    spot: Annotated[str | None, typer.Option(help="Done on this spot only: a test spot.")] = None,
    sets: Annotated[
        int | None,
        typer.Option(
            "--sets",
            help="Sets: one working of a section, four to six movements (default: the usual number).",
        ),
    ] = None,
    movements: Annotated[
        int | None, typer.Option(help="Or the movements over one section, counted altogether.")
    ] = None,
    sure: Annotated[bool, typer.Option("--sure", help="So many sets are meant as they stand.")] = False,
    by: Annotated[str, typer.Option("--by", help="Who did it.")] = "",
    minutes: Annotated[float | None, typer.Option(help="How long it took; else by the clock.")] = None,
    section_s: Annotated[float | None, typer.Option(metavar="S", help="Seconds a section.")] = None,
    product: Annotated[str, typer.Option(help="What was used, in your words.")] = "",
    pad: Annotated[str, typer.Option(help="Pad, if it differs from the tables.")] = "",
    machine: Annotated[str, typer.Option(help="Machine, if it differs from the tables.")] = "",
    at: Annotated[
        str | None, typer.Option(metavar="TIME", help="When, as 2026-05-12T14:51 (default: now).")
    ] = None,
) -> None:
    """Record what was done to a panel; PANEL 'all' stands for every panel."""
    from defectmap.commands import step_entries as commands

    entry = commands.TypedStep(
        kind=kind,
        rung=rung,
        spot=spot,
        sets=sets,
        movements=movements,
        sure=sure,
        section_s=section_s,
        product=product,
        pad=pad,
        machine=machine,
        by=by,
        minutes=minutes,
        at=at,
    )
    commands.step(where(ctx), job, panel, entry)


app.command()(job_notes.stage)
app.command()(job_notes.note)
app.command()(job_notes.checklist)
app.command("set-aside")(job_notes.set_aside)
app.command()(job_looking.status)
app.command()(job_plan.agree)
app.command()(job_results.measure)
app.command()(job_results.compare)
app.command("next")(job_looking.next_step)
app.command()(job_looking.budget)
app.command()(job_plan.plan)
app.command()(job_results.export)
app.command("import")(job_results.import_file)
app.command()(job_results.verify)
app.command()(job_looking.tables)
job_car.register(app)
