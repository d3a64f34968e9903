"""What the entering commands of `defectmap job` do."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, cast

from defectmap.commands.job_shared import Where, record
from defectmap.commands.printing import say, table
from defectmap.commands.sort_files import find_files, sort_files
from defectmap.errors import JobError
from defectmap.record.intake import Place, add_photograph
from defectmap.record.jobs import all_jobs, create_job, job_named
from defectmap.record.notes import put_setting, setting
from defectmap.record.panels import (
    FREE_PANEL_AREA_M2,
    PanelSpec,
    add_panel,
    change_panel,
    panels_of,
    standard_panels,
)
from defectmap.record.results import SHOP, tables_of
from defectmap.record.shop_style import shop_writer
from defectmap.record.sorting import Guess
from defectmap.record.store import Store
from defectmap.record.thickness_entries import UNITS
from defectmap.trade.facts import Target
from defectmap.words.counting import counted

ALL = "all"
MOST_OF_A_GAUGE = 50.0


def create(
    place: Where,
    reference: str,
    *,
    kind: str,
    only: Sequence[str],
    customer: str,
    vehicle: str,
    colour: str,
    paint: str,
    of: str | None,
    target: Target,
) -> None:
    """Create a job with the standard panels of its kind, or some of them, or free ones."""
    with record(place) as store:
        standard = tables_of(store).panels.get(kind)
        if standard is None and not only:
            known = ", ".join(tables_of(store).panels)
            raise JobError(f"No standard list of panels for {kind!r}; use {known}, or name the panels.")
        names = only or [row.name for row in standard or ()]
        job = create_job(
            store,
            reference,
            panels=standard_panels(names, standard or ()),
            kind=kind,
            customer=customer,
            vehicle=vehicle,
            colour=colour,
            paint=paint,
            target=target,
            of=of,
        )
        say(f"Created job {job.reference} with {counted(len(names), 'panel')} in {store.place}.")


def list_jobs(place: Where) -> None:
    """Print the jobs."""
    with record(place) as store:
        jobs = all_jobs(store)
        if not jobs:
            say(f"No jobs in {store.place} yet.")
            return
        writer = shop_writer(store)
        rows = [(j.reference, writer.day(j.created_at), j.kind, j.vehicle, j.customer) for j in jobs]
        table(("job", "created", "kind", "vehicle", "customer"), rows)


def panel(place: Where, reference: str, name: str, details: Mapping[str, Any]) -> None:
    """Add a panel, or change what is known of one."""
    with record(place) as store:
        there = next((p for p in panels_of(store, reference) if p.name == name), None)
        if there is None:
            add_panel(store, reference, PanelSpec(**{"name": name, "area_m2": FREE_PANEL_AREA_M2, **details}))
            say(f"Added panel {name}.")
        else:
            change_panel(store, reference, name, seen_version=there.version, **details)
            say(f"Changed panel {name}.")


def photographs(
    place: Where,
    reference: str,
    paths: Sequence[Path],
    *,
    given: Mapping[str, str | None],
    scale: tuple[float | None, float | None],
    questions: bool,
) -> None:
    """Sort photographs by their names (or by asking) and add them."""
    from defectmap.commands.terminal import progress_bar

    with record(place) as store:
        panels = _panel_words(store, reference)
        sorted_files = sort_files(find_files(paths), panels, given, ask=questions and sys.stdin.isatty())
        new = 0
        warnings: set[str] = set()
        with progress_bar() as progress:
            task = progress.add_task("adding", total=len(sorted_files))
            for file, guess in sorted_files:
                where_to = Place(
                    panel=cast(str, guess.panel),
                    stage=cast(str, guess.stage),
                    spot=guess.spot or "1",
                    px_per_mm=scale[0],
                    field_width_mm=scale[1],
                )
                added = add_photograph(store, reference, file, where_to)
                new += added.new
                warnings.update(f"{guess.panel}, {guess.stage}: {w}" for w in added.photograph.warnings)
                progress.advance(task)
        say(f"Added {counted(new, 'photograph')}; {len(sorted_files) - new} were there already.")
        warn([*sorted(warnings), *_unnamed_spots([guess for _, guess in sorted_files])])


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


def shop(place: Where, given: Mapping[str, str | float]) -> None:
    """Change what is given, and show all."""
    if any(isinstance(value, float) and not 0 <= value <= MOST_OF_A_GAUGE for value in given.values()):
        raise JobError(f"A gauge is good to 0 to {MOST_OF_A_GAUGE:g} µm and 0 to {MOST_OF_A_GAUGE:g} %.")
    if given.get("unit", "um") not in UNITS:
        raise JobError(f"The unit {given['unit']!r} is not known; use {' or '.join(UNITS)}.")
    with record(place) as store:
        known = {**setting(store, SHOP, {}), **given}
        if given:
            put_setting(store, SHOP, known)
        rows = [(name, known.get(name, "")) for name in ("name", "unit", "lamp", "camera")]
        gauge = tables_of(store).gauge
        said = f"±({gauge.um:g} µm + {gauge.percent:g} %), repeats within {gauge.repeat_um:g} µm"
        table(("shop", ""), [*rows, ("gauge", f"{said} ({gauge.source})")])


def _panel_words(store: Store, reference: str) -> dict[str, tuple[str, ...]]:
    job = job_named(store, reference)
    also = {row.name: row.also for row in tables_of(store).panels.get(job.kind, ())}
    return {p.name: also.get(p.name, ()) for p in panels_of(store, reference)}


def warn(sentences: Sequence[str]) -> None:
    """Print what is worth a look, beside the result."""
    for sentence in sentences:
        say(f"Note: {sentence}", error=True)
