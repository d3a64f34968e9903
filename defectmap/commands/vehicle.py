"""`defectmap vehicle …`: cars over their lives."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from defectmap.commands.job_shared import known, record, record_group
from defectmap.commands.printing import say, table
from defectmap.errors import JobError
from defectmap.record.life import life_of
from defectmap.record.results import tables_of
from defectmap.record.shop_style import screen_writer
from defectmap.record.vehicles import (
    add_vehicle,
    all_vehicles,
    change_vehicle,
    forget_keeper,
    jobs_of,
    keeper_of,
    put_keeper,
    vehicle_named,
)
from defectmap.words.counting import counted

app = record_group("Keep vehicles over their lives: visits, thickness over the years, whose they are.")
Name = Annotated[str, typer.Argument(metavar="VEHICLE", help="What the shop calls it.")]


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
    with record(ctx) as store:
        added = add_vehicle(store, vehicle, kind=kind, make=make, colour=colour, paint=paint)
        say(f"Added {added.name}. Open a job for it with: defectmap job create REFERENCE --of {added.name!r}")


@app.command("list")
def list_vehicles(ctx: typer.Context) -> None:
    """List the vehicles."""
    with record(ctx) as store:
        found = all_vehicles(store)
    if not found:
        say("There is no vehicle in this record yet.")
        return
    rows = [(one.name, one.kind, one.make, one.colour, one.paint) for one in found]
    table(("vehicle", "kind", "make", "colour", "paint"), rows)


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
    changes = known(name=name, make=make, colour=colour, paint=paint)
    if not changes:
        raise JobError("Say what changes, such as --paint 'clear coat'.")
    with record(ctx) as store:
        seen = vehicle_named(store, vehicle)
        changed = change_vehicle(store, vehicle, seen_version=seen.version, **changes)
    say(f"{changed.name}: {', '.join(filter(None, (changed.make, changed.colour, changed.paint)))}.")


@app.command()
def show(ctx: typer.Context, vehicle: Name) -> None:
    """Show its visits, its film thickness over the years, and what came off altogether."""
    with record(ctx) as store:
        car = vehicle_named(store, vehicle)
        life = life_of(store, vehicle, tables_of(store))
        visits, writer = jobs_of(store, vehicle), screen_writer(store)
    said = ", ".join(filter(None, (car.kind, car.make, car.colour, car.paint)))
    say(f"{car.name}: {said}; {counted(len(visits), 'visit')}.")
    table(
        ("job", "opened", "closed"),
        [
            (j.reference, writer.day(j.created_at), "" if j.closed_at is None else writer.day(j.closed_at))
            for j in visits
        ],
    )
    rows = [
        (
            one.panel,
            one.place,
            one.job,
            one.stage,
            writer.day(one.at),
            writer.film(one.lowest_um),
            ", ".join(f"{writer.film(um)} did not repeat" for um in one.not_repeated_um),
            one.readings,
        )
        for one in life.readings
    ]
    if rows:
        table(("panel", "place", "job", "stage", "day", "lowest", "", "readings"), rows)
    taken = [
        (one.panel, writer.films(one.spent_um.low, one.spent_um.high), writer.film(one.left_um, 1))
        for one in life.panels
    ]
    if taken:
        table(("panel", "came off over the years, as the steps estimate it", "may come off"), taken)


@app.command()
def keeper(
    ctx: typer.Context,
    vehicle: Name,
    name: Annotated[str | None, typer.Option(help="Whose it is.")] = None,
    contact: Annotated[str | None, typer.Option(help="Telephone, mail or address.")] = None,
    plate: Annotated[str | None, typer.Option(help="Number plate, if you want to keep it.")] = None,
) -> None:
    """Keep or show whose vehicle it is; this is kept apart and never exported unless asked."""
    given = known(name=name, contact=contact, plate=plate)
    with record(ctx) as store:
        found = put_keeper(store, vehicle, **given) if given else keeper_of(store, vehicle)
    if found is None:
        say(f"Nothing is kept about whose {vehicle} is.")
        return
    table(("", ""), [("name", found.name), ("contact", found.contact), ("plate", found.plate)])


@app.command()
def forget(
    ctx: typer.Context, vehicle: Name, yes: Annotated[bool, typer.Option("--yes", help="Do not ask.")] = False
) -> None:
    """Delete whose vehicle it is, with signatures and references to the customer; photographs stay."""
    if not yes:
        if not sys.stdin.isatty():
            raise JobError(f"This deletes whose {vehicle} is, for good; repeat it with --yes.")
        typer.confirm(f"Delete whose {vehicle} is, with signatures, for good?", abort=True)
    with record(ctx) as store:
        jobs = forget_keeper(store, vehicle)
    say(f"Forgotten, in {counted(jobs, 'job')}. Photographs, figures and steps stay.")
