"""`defectmap job create`, `list`, `panel`, `photographs` and `shop`: what is entered of a job."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, cast

import typer

from defectmap.commands.job_shared import Job, Panel, known, record, warn
from defectmap.commands.printing import REFUSED, say, table
from defectmap.commands.sort_files import find_files, sort_files
from defectmap.errors import AlreadyInRecord, BadPhotographFile, JobError, OriginalDamaged
from defectmap.record.intake import Added, Place, add_photograph
from defectmap.record.jobs import all_jobs, create_job
from defectmap.record.notes import put_setting, setting
from defectmap.record.panels import (
    FREE_PANEL_AREA_M2,
    PanelSpec,
    add_panel,
    change_panel,
    panels_of,
    standard_panels,
)
from defectmap.record.results import panel_words, tables_of
from defectmap.record.shop_style import SHOP, screen_writer
from defectmap.record.sorting import Guess
from defectmap.record.thickness_entries import UNITS
from defectmap.trade.facts import JobRecord, Target
from defectmap.trade.table_forms import Gauge, Rates
from defectmap.words.counting import counted
from defectmap.words.stage_words import told_gates
from defectmap.words.writer import Writer

MOST_OF_A_GAUGE = 50.0
MOST_OF_A_RATE = 100_000.0


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
    target = Target(
        density_mm_per_cm2=target_density,
        haze=target_haze,
        trail_mm_per_cm2=target_trails,
        longest_scratch_mm=target_scratch,
    )
    with record(ctx) as store:
        standard = tables_of(store).panels.get(kind)
        if standard is None and not panel:
            listed = ", ".join(tables_of(store).panels)
            raise JobError(f"No standard list of panels for {kind!r}; use {listed}, or name the panels.")
        names = panel or [row.name for row in standard or ()]
        created = create_job(
            store,
            job,
            panels=standard_panels(names, standard or ()),
            kind=kind,
            customer=customer,
            vehicle=vehicle,
            colour=colour,
            paint=paint,
            target=target,
            of=of,
        )
        say(f"Created job {created.reference} with {counted(len(names), 'panel')} in {store.place}.")


def list_jobs(ctx: typer.Context) -> None:
    """List the jobs, the latest first."""
    with record(ctx) as store:
        jobs = all_jobs(store)
        if not jobs:
            say(f"No jobs in {store.place} yet.")
            return
        writer = screen_writer(store)
        rows = [
            (one.reference, writer.day(one.created_at), one.kind, one.vehicle, one.customer, _state(one))
            for one in jobs
        ]
        table(("job", "created", "kind", "vehicle", "customer", ""), rows)


def _state(job: JobRecord) -> str:
    return "closed" if job.closed_at else ""


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
    details = known(
        area_m2=area,
        material=material,
        repainted=repainted,
        clear_coat_um=clear_coat,
        catches_nail=catches_nail,
        paint=paint,
        painted_on=painted_on,
    )
    with record(ctx) as store:
        there = next((one for one in panels_of(store, job) if one.name == panel), None)
        if there is None:
            add_panel(store, job, PanelSpec(**{"name": panel, "area_m2": FREE_PANEL_AREA_M2, **details}))
            say(f"Added panel {panel}.")
        else:
            change_panel(store, job, panel, seen_version=there.version, **details)
            say(f"Changed panel {panel}.")


def photographs(
    ctx: typer.Context,
    job: Job,
    paths: Annotated[
        list[Path], typer.Argument(metavar="PATH", help="Photographs or films; a folder is searched through.")
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

    The photographs are copied into the record unchanged; adding the same ones again does no harm. A file that
    cannot be added is named at the end and costs no other (exit status 3). A film (mp4, mov) of one spot
    while the lamp is moved is added like a photograph.
    """
    from defectmap.commands.terminal import progress_bar

    given = {"panel": panel, "stage": stage, "spot": spot}
    with record(ctx) as store:
        panels = panel_words(store, job)
        sorted_files = sort_files(find_files(paths), panels, given, ask=questions and sys.stdin.isatty())
        added: list[Added] = []
        failed: list[str] = []
        with progress_bar() as progress:
            task = progress.add_task("adding", total=len(sorted_files))
            for file, guess in sorted_files:
                where_to = Place(
                    panel=cast(str, guess.panel),
                    stage=cast(str, guess.stage),
                    spot=guess.spot or "1",
                    px_per_mm=px_per_mm,
                    field_width_mm=field_width_mm,
                )
                try:
                    added.append(add_photograph(store, job, file, where_to))
                except (BadPhotographFile, AlreadyInRecord, OriginalDamaged) as error:
                    failed.append(str(error))
                progress.advance(task)
        new = sum(one.new for one in added)
        say(f"Added {counted(new, 'photograph')}; {len(added) - new} were there already.")
        warn([*_stage_warnings(added), *_unnamed_spots([guess for _, guess in sorted_files])])
        for sentence in failed:
            say(f"Not added: {sentence}", error=True)
    raise typer.Exit(REFUSED if failed else 0)


def _stage_warnings(added: Sequence[Added]) -> list[str]:
    photographs = [one.photograph for one in added]
    return sorted({f"{p.panel}, {p.stage}: {words}" for p in photographs for words in told_gates(p.warnings)})


def _unnamed_spots(guesses: Sequence[Guess]) -> list[str]:
    """What to say where several photographs of one panel and stage do not tell their spots apart."""
    unnamed = Counter((guess.panel, guess.stage) for guess in guesses if guess.spot is None)
    return [
        f"{panel}, {stage}: {number} photographs without a spot all stand as spot 1, and only the latest of "
        "them counts for the next step. If they show different spots, set them aside and add them with "
        "spot1, spot2 in their names, or with --spot."
        for (panel, stage), number in unnamed.items()
        if number > 1
    ]


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
    hour: Annotated[float | None, typer.Option(metavar="N", help="What an hour of work costs.")] = None,
    material: Annotated[
        float | None, typer.Option(metavar="N", help="Material for one corrected panel.")
    ] = None,
    tax: Annotated[float | None, typer.Option(metavar="%", help="Tax on top, in percent.")] = None,
) -> None:
    """Show or change the settings of the shop: its name, its gauge, its rates."""
    rates = known(rate_hour=hour, rate_material_per_panel=material, rate_tax_percent=tax)
    if not all(0 <= value <= MOST_OF_A_RATE for value in rates.values()) or (tax or 0) > 100:
        raise JobError(f"A rate is 0 to {MOST_OF_A_RATE:g}, and tax 0 to 100 %.")
    gauge_given = known(gauge_um=gauge_um, gauge_percent=gauge_percent, gauge_repeat_um=gauge_repeat_um)
    given = known(name=name, unit=unit, lamp=lamp, camera=camera, **gauge_given, **rates)
    if not all(0 <= value <= MOST_OF_A_GAUGE for value in gauge_given.values()):
        raise JobError(f"A gauge is good to 0 to {MOST_OF_A_GAUGE:g} µm and 0 to {MOST_OF_A_GAUGE:g} %.")
    if given.get("unit", "um") not in UNITS:
        raise JobError(f"The unit {given['unit']!r} is not known; use {' or '.join(UNITS)}.")
    with record(ctx) as store:
        kept = {**setting(store, SHOP, {}), **given}
        if given:
            put_setting(store, SHOP, kept)
        tables, writer = tables_of(store), screen_writer(store)
    rows = [(what, kept.get(what) or "not entered") for what in ("name", "lamp", "camera")]
    rows += [("unit", writer.film_unit), ("gauge", _gauge(tables.gauge, writer))]
    table(("shop", ""), [*rows, ("rates", _rates(tables.rates))])


def _gauge(gauge: Gauge, writer: Writer) -> str:
    doubt = f"±({writer.film(gauge.um)} + {gauge.percent:g} %)"
    return f"{doubt}, repeats within {writer.film(gauge.repeat_um)} ({gauge.source})"


def _rates(rates: Rates) -> str:
    if not rates.hour and not rates.material_per_panel:
        return "not entered"
    each = f"{rates.hour} an hour, {rates.material_per_panel} of material a panel, tax {rates.tax_percent} %"
    return f"{each} ({rates.currency})"
