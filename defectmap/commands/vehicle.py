"""`defectmap vehicle …`: cars over their lives."""

from __future__ import annotations

from typing import Annotated

import typer

from defectmap.commands.job_shared import RecordDatabase, RecordFolder, Where, where

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_show_locals=False,
    help="Keep vehicles over their lives: visits, thickness over the years, whose they are.",
    context_settings={"help_option_names": ["-h", "--help"]},
)
Name = Annotated[str, typer.Argument(metavar="VEHICLE", help="What the shop calls it.")]


@app.callback()
def options(
    ctx: typer.Context,
    record: RecordFolder = None,
    database: RecordDatabase = None,
) -> None:
    """Keep vehicles over their lives: visits, thickness over the years, whose they are."""
    ctx.obj = Where(folder=record, url=database)


@app.command()
def add(
    ctx: typer.Context,
    vehicle: Name,
    kind: Annotated[str, typer.Option(help="car, van, motorcycle or boat.")] = "car",
    make: Annotated[str, typer.Option(help="What it is, in your words.")] = "",
    colour: Annotated[str, typer.Option(help="Body colour.")] = "",
    paint: Annotated[
        str, typer.Option(help="clear coat, single stage, matt, satin, film, wrap.")
    ] = "unknown",
) -> None:
    """Take a vehicle into the record."""
    from defectmap.commands import vehicle_printing as commands

    commands.add(where(ctx), vehicle, kind=kind, make=make, colour=colour, paint=paint)


@app.command("list")
def list_vehicles(ctx: typer.Context) -> None:
    """List the vehicles."""
    from defectmap.commands import vehicle_printing as commands

    commands.list_vehicles(where(ctx))


@app.command()
def change(
    ctx: typer.Context,
    vehicle: Name,
    name: Annotated[str | None, typer.Option(help="Another name for it.")] = None,
    make: Annotated[str | None, typer.Option(help="What it is, in your words.")] = None,
    colour: Annotated[str | None, typer.Option(help="Body colour.")] = None,
    paint: Annotated[str | None, typer.Option(help="clear coat, single stage, matt, …")] = None,
) -> None:
    """Change what is known of a vehicle."""
    from defectmap.commands import vehicle_printing as commands

    given = {"name": name, "make": make, "colour": colour, "paint": paint}
    commands.change(where(ctx), vehicle, {key: value for key, value in given.items() if value is not None})


@app.command()
def show(ctx: typer.Context, vehicle: Name) -> None:
    """Show its visits, its film thickness over the years, and what came off altogether."""
    from defectmap.commands import vehicle_printing as commands

    commands.show(where(ctx), vehicle)


@app.command()
def keeper(
    ctx: typer.Context,
    vehicle: Name,
    name: Annotated[str | None, typer.Option(help="Whose it is.")] = None,
    contact: Annotated[str | None, typer.Option(help="Telephone, mail or address.")] = None,
    plate: Annotated[str | None, typer.Option(help="Number plate, if you want to keep it.")] = None,
) -> None:
    """Keep or show whose vehicle it is; this is kept apart and never exported unless asked."""
    from defectmap.commands import vehicle_printing as commands

    given = {"name": name, "contact": contact, "plate": plate}
    commands.keeper(where(ctx), vehicle, {key: value for key, value in given.items() if value is not None})


@app.command()
def forget(
    ctx: typer.Context,
    vehicle: Name,
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask.")] = False,
) -> None:
    """Delete whose vehicle it is, with signatures and references to the customer; photographs stay."""
    from defectmap.commands import vehicle_printing as commands

    commands.forget(where(ctx), vehicle, yes=yes)
