"""What the commands of `defectmap vehicle` do."""

from __future__ import annotations

import sys
from collections.abc import Mapping

from defectmap.commands.job_shared import Where, record
from defectmap.commands.printing import say, table
from defectmap.errors import JobError
from defectmap.record.life import life_of
from defectmap.record.results import tables_of
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


def add(place: Where, name: str, *, kind: str, make: str, colour: str, paint: str) -> None:
    """Take a vehicle in."""
    with record(place) as store:
        added = add_vehicle(store, name, kind=kind, make=make, colour=colour, paint=paint)
        say(f"Added {added.name}. Open a job for it with: defectmap job create REFERENCE --of {added.name!r}")


def list_vehicles(place: Where) -> None:
    """Print the vehicles."""
    with record(place) as store:
        found = all_vehicles(store)
        if not found:
            say("There is no vehicle in this record yet.")
            return
        rows = [(one.name, one.kind, one.make, one.colour, one.paint) for one in found]
        table(("vehicle", "kind", "make", "colour", "paint"), rows)


def change(place: Where, name: str, changes: Mapping[str, str]) -> None:
    """Change a vehicle."""
    if not changes:
        raise JobError("Say what changes, such as --paint 'clear coat'.")
    with record(place) as store:
        seen = vehicle_named(store, name)
        changed = change_vehicle(store, name, seen_version=seen.version, **changes)
        say(f"{changed.name}: {', '.join(filter(None, (changed.make, changed.colour, changed.paint)))}.")


def show(place: Where, name: str) -> None:
    """Print the life of a vehicle."""
    with record(place) as store:
        car = vehicle_named(store, name)
        life = life_of(store, name, tables_of(store))
        visits = jobs_of(store, name)
    said = ", ".join(filter(None, (car.kind, car.make, car.colour, car.paint)))
    say(f"{car.name}: {said}; {counted(len(visits), 'visit')}.")
    table(
        ("job", "opened", "closed"),
        [(j.reference, j.created_at[:10], (j.closed_at or "")[:10]) for j in visits],
    )
    rows = [
        (one.panel, one.place, one.job, one.stage, one.day, f"{one.lowest_um:.0f}", one.readings)
        for one in life.readings
    ]
    if rows:
        table(("panel", "place", "job", "stage", "day", "lowest, µm", "readings"), rows)
    taken = [
        (one.panel, f"{one.spent_um.low:g} to {one.spent_um.high:g}", f"{one.left_um:.1f}")
        for one in life.panels
    ]
    if taken:
        table(("panel", "came off, µm", "may come off"), taken)


def keeper(place: Where, name: str, given: Mapping[str, str]) -> None:
    """Keep or print whose vehicle it is."""
    with record(place) as store:
        found = put_keeper(store, name, **given) if given else keeper_of(store, name)
    if found is None:
        say(f"Nothing is kept about whose {name} is.")
        return
    table(("", ""), [("name", found.name), ("contact", found.contact), ("plate", found.plate)])


def forget(place: Where, name: str, *, yes: bool) -> None:
    """Forget whose vehicle it is."""
    import typer

    if not yes:
        if not sys.stdin.isatty():
            raise JobError(f"This deletes whose {name} is, for good; repeat it with --yes.")
        typer.confirm(f"Delete whose {name} is, with signatures, for good?", abort=True)
    with record(place) as store:
        jobs = forget_keeper(store, name)
    say(f"Forgotten, in {counted(jobs, 'job')}. Photographs, figures and steps stay.")
