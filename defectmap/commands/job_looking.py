"""`defectmap job status`, `next`, `budget` and `tables`: what the record knows, and what follows from it."""

from __future__ import annotations

import shutil
from typing import Annotated, Any

import typer

from defectmap.commands.job_shared import Job, Json, PanelOption, Setup, record
from defectmap.commands.printing import STANDARD_OUTPUT, number, say, table, write_json
from defectmap.errors import AlreadyInRecord
from defectmap.record.agreed import target_words
from defectmap.record.intake import photographs_of
from defectmap.record.notes import notes_of
from defectmap.record.overview import JobOverview, PanelOverview, StageOverview, overview
from defectmap.record.results import advise, tables_of
from defectmap.record.sealing import plain
from defectmap.record.shop_style import screen_writer
from defectmap.record.store import TABLES_FILE, Store
from defectmap.trade.advice import CAUTIONS, Advice
from defectmap.trade.removal import removed
from defectmap.trade.tables import SHIPPED
from defectmap.words.counting import counted
from defectmap.words.film_words import FILMS_APART
from defectmap.words.trade_words import told, told_all
from defectmap.words.writer import Writer

_TOLD = ("why", "measured", "cautions", "alternatives", "questions")


def status(
    ctx: typer.Context,
    reference: Job,
    entries: Annotated[
        bool, typer.Option("--entries", help="List every photograph, reading and step with its identity.")
    ] = False,
    json_file: Json = None,
) -> None:
    """Show a job at a glance: photographs, results and warnings, panel by panel."""
    with record(ctx) as store:
        look = overview(store, reference)
        write_json(look, json_file)
        if json_file == STANDARD_OUTPUT:
            return
        job = look.job
        said = ", ".join(word for word in (job.kind, job.vehicle, job.colour, job.paint) if word)
        say(f"Job {job.reference}: {said}")
        say(
            f"{counted(look.photographs, 'photograph')}, {look.unmeasured} not measured, "
            f"{look.refused} refused; record in {store.place}"
        )
        writer = screen_writer(store)
        say(f"Good enough: {target_words(job.target, writer=writer)}.")
        if entries:
            for one in job.earlier_targets:
                say(f"  until {writer.moment(one.until)}: {target_words(one.target, writer=writer)}")
        rows = [_status_row(panel, writer) for panel in look.panels]
        headers = ("panel", "stage", "photographs", "density before", "after", "score", "readings", "notes")
        say("Densities are of each photograph's own zone; `job compare` gives those of the common area.")
        if any(stage.directions_share is not None for panel in look.panels for stage in panel.stages):
            say(FILMS_APART)
        if look.old:
            say(
                f"{counted(look.old, 'photograph')} measured in an earlier way: old figures; to renew: "
                f"`defectmap job measure {reference} --renew`."
            )
        table(headers, rows)
        if any(not s.figures.calibrated for p in look.panels for st in p.stages for s in st.measured):
            say("Some photographs are uncalibrated: their densities are relative.")
        if entries:
            _entries(store, reference, look)


def next_step(
    ctx: typer.Context, reference: Job, panel: PanelOption = None, setup: Setup = None, json_file: Json = None
) -> None:
    """Say the next step on each panel, least aggressive first, and why."""
    with record(ctx) as store:
        found, writer = advise(store, reference, panel=panel, setup=setup), screen_writer(store)
    write_json([advice_json(one.advice) for one in found], json_file)
    if json_file == STANDARD_OUTPUT:
        return
    for one in found:
        advice = one.advice
        step = f": {advice.rung.name}, {counted(advice.sets, 'set')}" if advice.rung else ""
        say(f"{advice.panel}: {advice.action}{step}")
        for line in told_all((*advice.why, *advice.questions, *advice.alternatives), writer=writer):
            say(f"  {line}")
        if advice.measured:
            say(f"  Measured: {'; '.join(told_all(advice.measured, writer=writer))}.")
        for caution in told_all([one for one in advice.cautions if one not in CAUTIONS], writer=writer):
            say(f"  Mind: {caution}")
    for caution in told_all([each for one in found for each in one.advice.cautions if each in CAUTIONS]):
        say(f"Caution: {caution}")


def budget(ctx: typer.Context, reference: Job, json_file: Json = None) -> None:
    """Show what the clear coat of each panel still allows, and what is assumed."""
    with record(ctx) as store:
        found, writer = advise(store, reference), screen_writer(store)
    write_json([{"thickness": one.thickness, "budget": one.budget} for one in found], json_file)
    if json_file == STANDARD_OUTPUT:
        return
    rows = [
        (
            one.budget.panel,
            writer.film(one.thickness.mean_um),
            writer.film(one.thickness.minimum_um),
            writer.films(one.budget.clear_um.low, one.budget.clear_um.high),
            writer.film(one.budget.keep_um),
            writer.films(one.budget.spent_um.low, one.budget.spent_um.high),
            writer.film(one.budget.left_um, 1) if one.budget.known else "not measured",
        )
        for one in found
    ]
    table(("panel", "film", "thinnest", "clear coat assumed", "keep", "spent", "may come off"), rows)
    for sentence in told_all([one.budget.assumption for one in found], writer=writer):
        say(sentence)
    for one in found:
        for remark in told_all(one.budget.remarks, writer=writer):
            say(f"{one.budget.panel}: {remark}")
        for spot in one.removal.places:
            say(f"{one.budget.panel}: {told(removed(spot, one.removal.estimated_um), writer=writer)}")


def tables(
    ctx: typer.Context,
    copy: Annotated[
        bool, typer.Option("--copy", help="Put a copy to edit into the record's folder.")
    ] = False,
) -> None:
    """Check the trade tables and show the correction steps; every error is shown with its place."""
    with record(ctx) as store:
        own = store.own_tables
        if copy:
            if own.exists():
                raise AlreadyInRecord(f"{own} exists and was left alone; edit it there.")
            shutil.copyfile(SHIPPED, own)
            store.originals.share(TABLES_FILE)
        trade, writer = tables_of(store), screen_writer(store)
        say(f"{own} is used." if own.exists() else f"The shipped tables are used; {own} would come first.")
    rows = [
        (rung.key, rung.name, writer.films(rung.removal_um.low, rung.removal_um.high), rung.sets, rung.source)
        for rung in trade.ladder
    ]
    table(("step", "name", "takes a set", "sets", "source"), rows)
    low, high = trade.sets.movements.low, trade.sets.movements.high
    say(f"A set is {low:g} to {high:g} movements over one section with one charge ({trade.sets.source}).")
    gauge = trade.gauge
    say(f"Gauge: ±({writer.film(gauge.um)} + {gauge.percent:g} %), {gauge.source}.")
    say(f"Film: {trade.film.source}. Least effect: {trade.effect.source}. Times: {trade.times.source}.")
    say(f"Protection: {', '.join(f'{kind.key} ({kind.source})' for kind in trade.protection)}.")
    say(f"Checklists: {', '.join(trade.checklists)}.")


def advice_json(advice: Advice) -> dict[str, Any]:
    """Advice as JSON: sentences for people, and the codes behind them for programs."""
    words = {name: told_all(getattr(advice, name)) for name in _TOLD}
    codes = {f"{name}_codes": [one.record() for one in getattr(advice, name)] for name in _TOLD}
    return {**plain(advice), "finishing": advice.finish is not None, **words, **codes}


def _status_row(panel: PanelOverview, writer: Writer) -> tuple[object, ...]:
    """One line of the status table."""
    before, after = panel.at("decontaminated"), panel.at("wiped")
    latest = after or before
    places = {reading.place for reading in panel.history.readings}
    warnings = panel.photograph_warnings + sum(bool(step.warnings) for step in panel.history.steps)
    return (
        panel.history.panel.name,
        panel.stage or "–",
        sum(stage.photographs for stage in panel.stages),
        _density(before, writer),
        _density(after, writer),
        number(latest.mean_score, 0) if latest else "–",
        f"{len(panel.history.readings)} at {counted(len(places), 'place')}" if places else "–",
        f"{warnings} warned" if warnings else "",
    )


def _density(stage: StageOverview | None, writer: Writer) -> str:
    """The mean density of a stage in the shop's unit; without one where a photograph has no scale.

    Where it is of films, the share of directions that they could show stands beside it.
    """
    if stage is None or stage.mean_density is None:
        return "–"
    scaled = all(one.figures.calibrated for one in stage.counting)
    density = number(stage.mean_density)
    shown = writer.tell("{density:.1f density}", density=stage.mean_density) if scaled else density
    share = stage.directions_share
    return shown if share is None else f"{shown} (film, {100 * share:.0f} %)"


def _entries(store: Store, reference: str, look: JobOverview) -> None:
    """Print every entry with its identity."""
    rows: list[tuple[object, ...]] = [
        ("photograph", p.id, p.panel, f"{p.stage}, spot {p.spot}, {p.name}")
        for p in photographs_of(store, reference)
    ]
    for panel in look.panels:
        name = panel.history.panel.name
        rows += [("reading", r.id, name, f"{r.place}: {r.entered}") for r in panel.history.readings]
        rows += [("step", s.id, name, " ".join(filter(None, (s.kind, s.rung)))) for s in panel.history.steps]
    rows += [("note", n.id, n.panel or "", n.words) for n in notes_of(store, reference)]
    table(("entry", "identity", "panel", "what"), rows)
