"""What `defectmap job readings` and `defectmap job step` do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from defectmap.commands.job_entries import ALL, warn
from defectmap.commands.job_shared import Where, record
from defectmap.commands.printing import say
from defectmap.errors import JobError
from defectmap.record.entries import StepSpec, add_step, moment, spec_of
from defectmap.record.history import histories
from defectmap.record.notes import setting
from defectmap.record.panels import panels_of
from defectmap.record.results import SHOP, tables_of
from defectmap.record.store import Store
from defectmap.record.thickness_entries import add_readings
from defectmap.record.worktimes import clocked
from defectmap.trade.setcount import sets_of
from defectmap.trade.tables import TradeTables
from defectmap.trade.thickness import life_readings, panel_thickness
from defectmap.words.trade_words import told_all


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingEntry:
    """How readings were given on the command line."""

    unit: str | None
    stage: str | None
    again: bool
    sure: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedStep:
    """What was given of a step on the command line."""

    kind: str
    rung: str | None
    spot: str | None
    sets: int | None
    movements: int | None
    sure: bool
    section_s: float | None
    product: str
    pad: str
    machine: str
    by: str
    minutes: float | None
    at: str | None


def readings(
    place: Where, reference: str, panel: str, spot: str, values: Sequence[float], entry: ReadingEntry
) -> None:
    """Enter readings and show what they make of the place."""
    with record(place) as store:
        unit: Any = entry.unit or setting(store, SHOP, {}).get("unit", "um")
        entered = add_readings(
            store,
            reference,
            panel,
            spot,
            tuple(values),
            unit=unit,
            stage=entry.stage,
            again=entry.again,
            sure=entry.sure,
        )
        trade = tables_of(store)
        history = next(one for one in histories(store, reference) if one.panel.name == panel)
    film = panel_thickness(panel, life_readings(history), trade.film, trade.gauge)
    found = next(one for one in film.places if one.place == spot)
    mean = "" if found.mean_um is None else f", mean {found.mean_um:.0f} µm"
    lowest = "" if found.lowest_um is None else f", lowest {found.lowest_um:.0f} µm"
    say(f"Entered {len(entered)} readings on {panel}, {spot}, {found.stage}{mean}{lowest}.")
    warn(told_all((*found.remarks, *(r for r in film.remarks if r.code in _OF_THE_PANEL))))


_OF_THE_PANEL = ("too thin", "thinner than usual", "probably repainted", "probably filled")


def step(place: Where, reference: str, panel: str, entry: TypedStep) -> None:
    """Record a step on one panel or all; a correction takes its removal from the tables."""
    when = None if entry.at is None else moment(entry.at)
    with record(place) as store:
        trade = tables_of(store)
        names = [p.name for p in panels_of(store, reference)] if panel == ALL else [panel]
        warnings: list[str] = []
        for name in names:
            spec = _spec(store, reference, name, entry, trade, shared=len(names))
            done = add_step(store, reference, name, spec, spot=entry.spot, ladder=trade.ladder_keys, at=when)
            warnings += [f"{name}: {sentence}" for sentence in done.warnings]
    say(f"Recorded {entry.kind} on {', '.join(names)}{f', spot {entry.spot}' if entry.spot else ''}.")
    warn(warnings)


def _spec(
    store: Store, reference: str, panel: str, entry: TypedStep, trade: TradeTables, *, shared: int
) -> StepSpec:
    """The step on one panel; minutes that were typed for several panels are shared out."""
    if entry.kind == "correct" and entry.rung is None:
        raise JobError(f"Say which correction step it was with --rung: {', '.join(trade.ladder_keys)}.")
    rung = None if entry.rung is None else trade.rung(entry.rung)
    usual = 1 if rung is None else rung.sets
    sets = sets_of(trade.sets, usual=usual, sets=entry.sets, movements=entry.movements, sure=entry.sure)
    minutes = None if entry.minutes is None else entry.minutes / shared
    words = {"product": entry.product, "pad": entry.pad, "machine": entry.machine, "by": entry.by}
    spec = spec_of(entry.kind, rung, sets=sets, section_s=entry.section_s, minutes=minutes, **words)
    return clocked(store, reference, panel, spec)
