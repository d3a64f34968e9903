"""Lines of the tables that `defectmap job` prints."""

from __future__ import annotations

from typing import Any

from defectmap.commands.printing import number, table
from defectmap.comparison.contract import reduced
from defectmap.record.intake import photographs_of
from defectmap.record.notes import notes_of
from defectmap.record.overview import JobOverview, PanelOverview
from defectmap.record.store import Store
from defectmap.words.counting import counted


def status_row(panel: PanelOverview) -> tuple[object, ...]:
    """One line of the status table."""
    before, after = panel.at("decontaminated"), panel.at("wiped")
    latest = after or before
    places = {reading.place for reading in panel.history.readings}
    warnings = panel.photograph_warnings + sum(bool(step.warnings) for step in panel.history.steps)
    return (
        panel.history.panel.name,
        panel.stage or "–",
        sum(stage.photographs for stage in panel.stages),
        number(before.mean_density) if before else "–",
        number(after.mean_density) if after else "–",
        number(latest.mean_score, 0) if latest else "–",
        f"{len(panel.history.readings)} at {counted(len(places), 'place')}" if places else "–",
        f"{warnings} warned" if warnings else "",
    )


def entries(store: Store, reference: str, look: JobOverview) -> None:
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


def comparison_row(panel: str, result: Any) -> tuple[object, ...]:
    """One line of the table of comparisons."""
    density = (result.get("density_mm_per_cm2") or {}).get("all") or {}
    change, interval = density.get("change_percent"), density.get("ci95_percent")
    return (
        panel,
        result.get("comparable"),
        number(density.get("before")),
        number(density.get("after")),
        "–" if change is None else f"{change:+.0f} %",
        "–" if not interval else " to ".join("–" if end is None else f"{end:+.0f}" for end in interval),
        (result.get("claim") or {}).get("word", "") if reduced(result) else "",
    )
