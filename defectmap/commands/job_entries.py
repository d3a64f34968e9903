"""What the entering commands of `defectmap job` do."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any, cast

from defectmap.commands.job_shared import Where
from defectmap.commands.printing import say, table
from defectmap.commands.sort_files import find_files, sort_files
from defectmap.errors import JobError, NotInRecord
from defectmap.record.agreed import target_words
from defectmap.record.entries import enter_stage
from defectmap.record.entries import set_aside as set_entry_aside
from defectmap.record.intake import Place, add_photograph
from defectmap.record.jobs import (
    FREE_PANEL_AREA_M2,
    PanelSpec,
    add_panel,
    all_jobs,
    change_job,
    change_panel,
    create_job,
    job_named,
    panels_of,
    standard_panels,
)
from defectmap.record.notes import add_note, checklists_of, put_setting, setting, start_checklist, tick
from defectmap.record.results import SHOP, tables_of
from defectmap.record.shop_style import shop_writer
from defectmap.record.sorting import Guess
from defectmap.record.store import Store, open_store
from defectmap.record.thickness_entries import UNITS
from defectmap.trade.facts import Target
from defectmap.words.counting import counted

ALL = "all"
MOST_OF_A_GAUGE = 50.0


@contextmanager
def record(place: Where) -> Iterator[Store]:
    """Open the record that the options name, and close it."""
    store = open_store(place.folder, url=place.url)
    try:
        yield store
    finally:
        store.close()


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
        say(f"Created job {job.reference} with {counted(len(names), 'panel')} in {store.folder}.")


def agree(place: Where, reference: str, figures: Mapping[str, float | None], *, replace_all: bool) -> None:
    """Keep what was agreed with the customer; what is not given stays, unless all is replaced."""
    given = {key: value for key, value in figures.items() if value is not None}
    if not given and not replace_all:
        raise JobError("Say what was agreed, such as --density 2, or --replace to clear what was agreed.")
    with record(place) as store:
        job = job_named(store, reference)
        target = replace(Target() if replace_all else job.target, **given)
        changed = change_job(store, reference, seen_version=job.version, target=target)
        say(f"Good enough: {target_words(changed.target)}.")
        say(f"Before: {target_words(job.target)}.")


def list_jobs(place: Where) -> None:
    """Print the jobs."""
    with record(place) as store:
        jobs = all_jobs(store)
        if not jobs:
            say(f"No jobs in {store.folder} yet.")
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


def stage(place: Where, reference: str, panel: str, name: str) -> None:
    """Record a stage of one panel or all."""
    with record(place) as store:
        names = [p.name for p in panels_of(store, reference)] if panel == ALL else [panel]
        for one in names:
            entered = enter_stage(store, reference, one, name)
            say(f"{one} is now {entered.stage}.")
            warn(entered.warnings)


def note(place: Where, reference: str, words: str, *, panel: str | None) -> None:
    """Keep a note."""
    with record(place) as store:
        add_note(store, reference, words, panel=panel)
        say("Noted.")


def checklist(place: Where, reference: str, *, start: str | None, done: int | None, by: str) -> None:
    """Start, tick and show checklists."""
    with record(place) as store:
        if start is not None:
            lists = tables_of(store).checklists
            if start not in lists:
                raise JobError(f"The tables have no checklist {start!r}; they have {', '.join(lists)}.")
            start_checklist(store, reference, start, lists[start])
        lines = checklists_of(store, reference)
        if done is not None:
            if not 1 <= done <= len(lines):
                raise NotInRecord(f"Line {done} does not exist; the checklists have {len(lines)} lines.")
            tick(store, reference, lines[done - 1].id, by=by)
            lines = checklists_of(store, reference)
        if not lines:
            say("No checklist is started; see `defectmap job tables` for those there are.")
        rows = [(n, "x" if c.done_at else "", c.list_name, c.words) for n, c in enumerate(lines, start=1)]
        if rows:
            table(("line", "done", "list", "what"), rows)


def set_aside(place: Where, reference: str, what: str, entry: str, *, why: str) -> None:
    """Set an entry aside."""
    if what not in ("photograph", "reading", "step"):
        raise JobError(f"{what!r} cannot be set aside; name a photograph, a reading or a step.")
    with record(place) as store:
        set_entry_aside(store, reference, cast(Any, what), entry, why=why)
        say(f"Set that {what} aside.")


def _panel_words(store: Store, reference: str) -> dict[str, tuple[str, ...]]:
    job = job_named(store, reference)
    also = {row.name: row.also for row in tables_of(store).panels.get(job.kind, ())}
    return {p.name: also.get(p.name, ()) for p in panels_of(store, reference)}


def warn(sentences: Sequence[str]) -> None:
    """Print what is worth a look, beside the result."""
    for sentence in sentences:
        say(f"Note: {sentence}", error=True)
