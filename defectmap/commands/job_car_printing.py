"""What the job commands around the car do: damage, signatures, clocks, papers, what is remembered."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

from defectmap.commands.job_shared import Where, record
from defectmap.commands.printing import say, table
from defectmap.errors import JobError
from defectmap.record.closing import close_job
from defectmap.record.damages import add_damage, damages_of
from defectmap.record.finished_panels import finished_panels
from defectmap.record.jobs import change_job, job_named
from defectmap.record.results import tables_of
from defectmap.record.signatures import sign as keep_signature
from defectmap.record.thickness_entries import explain_reading, lowest_reading
from defectmap.record.vehicles import attach
from defectmap.record.worktimes import start_work
from defectmap.trade.damage import stays_because
from defectmap.trade.memory import experiences, reachable
from defectmap.words.trade_words import told


def change(
    place: Where, reference: str, changes: Mapping[str, Any], *, of: str | None, closed: bool | None
) -> None:
    """Change a job."""
    if not changes and of is None and closed is None:
        raise JobError("Say what changes, such as --paint 'clear coat'.")
    with record(place) as store:
        if changes:
            change_job(store, reference, seen_version=job_named(store, reference).version, **changes)
        if of is not None:
            attach(store, reference, of)
        if closed is not None:
            close_job(store, job_named(store, reference).id, closed=closed)
        job = job_named(store, reference)
    said = ", ".join(filter(None, (job.kind, job.vehicle, job.colour, job.paint)))
    say(f"Job {job.reference}: {said}{', closed' if job.closed_at else ''}.")


def damage(
    place: Where,
    reference: str,
    panel: str,
    kind: str,
    *,
    words: str,
    photo: Path | None,
    at_plan: tuple[float, float] | None,
    stays: str | None,
) -> None:
    """Mark damage."""
    with record(place) as store:
        added = add_damage(
            store, reference, panel, kind, words=words, at_plan=at_plan, photograph=photo, stays=stays
        )
    why = stays_because(added)
    say(f"Marked a {kind} on {panel}{'' if why is None else f'. It stays: {told(why)}'}")


def damages(place: Where, reference: str) -> None:
    """Print the damage of a job."""
    with record(place) as store:
        found = damages_of(store, reference)
    if not found:
        say("No damage is marked.")
        return
    rows = []
    for number, one in enumerate(found, start=1):
        why = stays_because(one)
        photo = "yes" if one.sha256 else ""
        rows.append((number, one.panel, one.kind, one.words, photo, "" if why is None else told(why)))
    table(("number", "panel", "kind", "what", "photograph", "stays, because"), rows)


def sign(
    place: Where,
    reference: str,
    what: str,
    *,
    by: str,
    words: str,
    picture: Path | None,
    given: bool,
) -> None:
    """Keep a signature."""
    try:
        drawn = None if picture is None else picture.read_bytes()
    except OSError as error:
        raise JobError(f"{picture} cannot be read ({error.strerror}); choose another file.") from error
    with record(place) as store:
        kept = keep_signature(store, reference, what, words=words, signed_by=by, given=given, picture=drawn)
    say(f"Kept: {what}, {'given' if kept.given else 'refused'}{', on paper' if kept.on_paper else ''}.")


def start(place: Where, reference: str, panel: str, kind: str, *, by: str) -> None:
    """Start a clock."""
    with record(place) as store:
        running = start_work(store, reference, panel, kind, by=by)
    say(f"The clock runs: {kind} on {panel}{f', {running.by}' if running.by else ''}.")


def explain(place: Where, reference: str, panel: str, spot: str, *, why: str) -> None:
    """Explain the lowest reading of a place."""
    with record(place) as store:
        lowest = lowest_reading(store, reference, panel, spot)
        explain_reading(store, reference, lowest.id, why=why)
    say(f"{panel}, {spot}: {lowest.value_um:.0f} µm is explained ({why}). Keep the machine off it.")


def memory(place: Where, paint: str) -> None:
    """Print what was achieved before."""
    with record(place) as store:
        names = {rung.key: rung.name for rung in tables_of(store).ladder}
        finished = finished_panels(store)
    found = experiences(finished, paint=paint)
    if not found:
        say(f"No panel of paint {paint!r} is corrected, wiped and measured yet.")
        return
    rows = [
        (
            ", then ".join(names.get(key, key) for key in one.steps),
            one.panels,
            f"{one.change_percent:+.0f} %",
            f"{one.change_range[0]:+.0f} to {one.change_range[1]:+.0f} %",
            "–" if one.minutes is None else f"{one.minutes:.0f}",
            f"{one.removal_um.low:g} to {one.removal_um.high:g}",
        )
        for one in found
    ]
    table(("steps", "panels", "marks, median", "range", "minutes", "µm"), rows)
    best = reachable(finished, paint=paint)
    if best is not None:
        say(f"Reached at best: {best.density_mm_per_cm2:.2g} mm/cm², over {best.panels} panel(s).")


def paper(
    place: Where,
    reference: str,
    kind: str,
    file: Path,
    *,
    number: str,
    protection: str | None,
    done_on: str | None,
) -> None:
    """Write a paper."""
    from defectmap.outputs import write_file
    from defectmap.record.notes import setting
    from defectmap.record.results import SHOP
    from defectmap.record.rows import checked_day
    from defectmap.report.car_papers import car_paper
    from defectmap.report.car_sheets import paper_pdf
    from defectmap.words.style import style_of

    day = date.today() if done_on is None else date.fromisoformat(checked_day(done_on))
    with record(place) as store:
        content = car_paper(store, reference, kind, day=day, number=number, protection=protection)
        style = style_of(setting(store, SHOP, {}))
    write_file(file, paper_pdf(content, style, made_on=day.isoformat()))
    say(f"Wrote {file}.")
