"""`defectmap job readings` and `defectmap job step`: what is measured on a panel, and done to it."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from defectmap.commands.job_shared import ALL, Job, Panel, record, warn
from defectmap.commands.printing import say
from defectmap.errors import JobError
from defectmap.record.entries import add_step, moment, spec_of
from defectmap.record.history import histories
from defectmap.record.notes import setting
from defectmap.record.panels import panels_of
from defectmap.record.results import tables_of
from defectmap.record.shop_style import SHOP, screen_writer
from defectmap.record.shop_tables import put_on
from defectmap.record.thickness_entries import add_readings
from defectmap.record.worktimes import clocked
from defectmap.trade.care import three_times
from defectmap.trade.setcount import sets_of
from defectmap.trade.thickness import life_readings, panel_thickness
from defectmap.words.counting import counted
from defectmap.words.stage_words import told_gates
from defectmap.words.trade_words import told, told_all

_OF_THE_PANEL = ("too thin", "thinner than usual", "probably repainted", "probably filled")


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
    with record(ctx) as store:
        used: Any = unit or setting(store, SHOP, {}).get("unit", "um")
        entered = add_readings(
            store, job, panel, place, tuple(values), unit=used, stage=stage, again=again, sure=sure
        )
        trade, writer = tables_of(store), screen_writer(store)
        history = next(one for one in histories(store, job) if one.panel.name == panel)
    film = panel_thickness(panel, life_readings(history), trade.film, trade.gauge)
    found = next(one for one in film.places if one.place == place)
    mean = "" if found.mean_um is None else f", mean {writer.film(found.mean_um)}"
    lowest = "" if found.lowest_um is None else f", lowest {writer.film(found.lowest_um)}"
    say(f"Entered {counted(len(entered), 'reading')} on {panel}, {place}, {found.stage}{mean}{lowest}.")
    of_panel = (remark for remark in film.remarks if remark.code in _OF_THE_PANEL)
    warn(told_all((*found.remarks, *of_panel), writer=writer))


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
    when = None if at is None else moment(at)
    with record(ctx) as store:
        trade = tables_of(store)
        if kind == "correct" and rung is None:
            raise JobError(f"Say which correction step it was with --rung: {', '.join(trade.ladder_keys)}.")
        chosen = None if rung is None else trade.rung(rung)
        usual = 1 if chosen is None else chosen.sets
        names = [one.name for one in panels_of(store, job)] if panel == ALL else [panel]
        if not names:
            raise JobError(f"Job {job} has no panel yet; add one with `defectmap job panel`.")
        done = spec_of(
            kind,
            chosen,
            sets=sets_of(trade.sets, usual=usual, sets=sets, movements=movements, sure=sure),
            section_s=section_s,
            minutes=None if minutes is None else minutes / len(names),  # of several panels: shared out
            product=product,
            pad=pad,
            machine=machine,
            by=by,
        )
        warnings: list[str] = []
        for name in names:
            spec = clocked(store, job, name, done)
            added = add_step(store, job, name, spec, spot=spot, ladder=trade.ladder_keys, at=when)
            warnings += [f"{name}: {sentence}" for sentence in told_gates(added.warnings)]
        took = screen_writer(store).films(done.removal_low_um, done.removal_high_um)
    said = [f"Recorded {kind} on {', '.join(names)}{f', spot {spot}' if spot else ''}"]
    if chosen is not None:
        said.append(f"{chosen.name}, {counted(done.sets, 'set')}, takes {took} ({chosen.source})")
    if spec.minutes is not None:
        said.append(f"{spec.minutes * len(names):.0f} minutes")
    say(f"{'; '.join(said)}.")
    kept = put_on([added], trade)
    if kept is not None:
        say(told(three_times(kept)))
    warn(warnings)
