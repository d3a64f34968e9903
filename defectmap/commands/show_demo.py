"""`defectmap demo`: the sample job put into a record of its own, measured, compared, reported and shown."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from rich import box
from rich.table import Table

import defectmap
from defectmap.commands.demo_files import write_files
from defectmap.commands.demo_films import FOLDER, show_films
from defectmap.commands.printing import REFUSED, say
from defectmap.commands.terminal import console, measuring, progress_bar
from defectmap.errors import DefectmapError
from defectmap.outputs import write_file
from defectmap.record.keeping import PhotoResult, results_of
from defectmap.record.measuring import measure_job
from defectmap.record.results import compare
from defectmap.record.sample_job import FILM_JOB_FILE, JOB_FILE, load_sample_job
from defectmap.record.store import Store, open_store
from defectmap.trade.stages import BASELINE, PROOF
from defectmap.words.changes import full_change, kept_change
from defectmap.words.film_words import FUSED
from defectmap.words.style import Style

if TYPE_CHECKING:
    from defectmap.report.content import Report

RECORD = "record"  # folder of the demo's own record
POSTING = "posting.jpg"
SIDES = {BASELINE: "before", PROOF: "after"}


class SamplesNotFound(DefectmapError):
    """The sample job is not on this computer, or not where it was said to be."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoPanel:
    """One panel of the sample job: its photographs by side, and how its marks changed."""

    name: str
    sides: Mapping[str, PhotoResult]
    change: str

    @property
    def pictures(self) -> list[tuple[str, str]]:
        """Overlay of each side with its figures in words; for a refused photograph only why."""
        shown = []
        for side, result in self.sides.items():
            marks, longest, score = _figures(result)
            found = f"{marks} mm/cm² of marks (own zone), longest scratch {longest} mm, score {score} of 100"
            overlay = f"{Path(result.photograph.name).stem}-overlay.jpg"
            shown.append(("" if result.refused else overlay, f"{side}: {result.refused or found}"))
        return shown


def run_demo(*, out: Path, samples: Path | None) -> tuple[int, str]:
    """Measure the sample job, write records, zones, overlays, report and a page into `out`, print a table.

    Returns
    -------
    tuple of int and str
        Exit status: 0, or 3 where a photograph was refused; and the job's reference.

    Raises
    ------
    SamplesNotFound
        No sample job in `samples`, beside the package or in the current folder.
    """
    from defectmap.report.page import render

    folder = find_samples(samples)
    store = open_store(out / RECORD)
    try:
        reference = load_sample_job(store, folder)
        filmed = show_films(store, folder, out) if (folder / FILM_JOB_FILE).is_file() else None
        _measure(store, reference)
        panels = [_compared(store, reference, name, sides) for name, sides in _panels(store, reference)]
        for panel in panels:
            for result in panel.sides.values():
                write_files(store, result, out)
        _write_report(store, reference, out)
    finally:
        store.close()
    page = out / "index.html"
    shown = {"panels": panels, "films": filmed, "folder": FOLDER, "fused": FUSED}
    posting = POSTING if (out / POSTING).exists() else None
    write_file(page, render("demo.html.jinja", style=Style(), posting=posting, **shown).encode())
    screen = console()
    screen.print(demo_table(panels))
    if filmed is not None:
        say(filmed.words)
    refused = [one for panel in panels for one in panel.sides.values() if one.refused]
    for one in refused:
        say(f"Refused: {one.refused}", error=True)
    screen.print(
        f"Records, zone masks, overlays and the report are in {out}; open {page} to see them.", markup=False
    )
    return REFUSED if refused else 0, reference


def find_samples(folder: Path | None) -> Path:
    """Return the folder of the sample job: the one given, or where a clone of the project has it."""
    clone = Path(defectmap.__file__).resolve().parent.parent / "samples"
    tried = [folder] if folder else [clone, Path("samples").resolve()]
    for place in tried:
        if (place / JOB_FILE).is_file():
            return place
    raise SamplesNotFound(
        f"No sample job ({JOB_FILE}) in {' or '.join(str(place) for place in tried)}: the sample "
        "photographs come with the project's source, not with the installed package; run the demo from a "
        "clone, or name the folder with --samples."
    )


def demo_table(panels: Sequence[DemoPanel]) -> Table:
    """One row a panel: density, longest scratch and score, before and after, and the change."""
    title = "The sample job: before -> after (own zone), and the change of all marks (common area)"
    table = Table(title=title, title_justify="left", box=box.SIMPLE_HEAD)
    table.add_column("panel")
    for head in ("all marks\nmm/cm²", "longest scratch\nmm", "score\nof 100"):
        table.add_column(head, justify="right")
    table.add_column("change")
    for panel in panels:
        before, after = (_figures(panel.sides.get(side)) for side in SIDES.values())
        pairs = (f"{first} -> {second}" for first, second in zip(before, after, strict=True))
        table.add_row(panel.name, *pairs, panel.change)
    return table


def _measure(store: Store, reference: str) -> None:
    with progress_bar() as bar:
        measure_job(store, reference, progress=measuring(bar))


def _panels(store: Store, reference: str) -> Sequence[tuple[str, Mapping[str, PhotoResult]]]:
    found: dict[str, dict[str, PhotoResult]] = {}
    for one in results_of(store, reference).values():
        if one.photograph.stage in SIDES:
            found.setdefault(one.photograph.panel, {})[SIDES[one.photograph.stage]] = one
    return [
        (name, {side: sides[side] for side in SIDES.values() if side in sides})
        for name, sides in found.items()
    ]


def _compared(store: Store, reference: str, name: str, sides: Mapping[str, PhotoResult]) -> DemoPanel:
    try:
        found = compare(store, reference, name)
    except DefectmapError:
        return DemoPanel(name=name, sides=sides, change="not measured")
    change = kept_change(found.result["density_mm_per_cm2"]["all"])
    words = "not comparable" if found.verdict == "no" else full_change(change)
    return DemoPanel(name=name, sides=sides, change=words)


def _write_report(store: Store, reference: str, out: Path) -> None:
    """Page, PDFs, figures, claims and, where a panel can be shown, the picture for posting."""
    from defectmap.report.claims import claim_sheet
    from defectmap.report.fromjob import report_from_job
    from defectmap.report.posting import NothingToPost
    from defectmap.report.writing import write_claims, write_posting, write_report

    report: Report = report_from_job(store, reference, made_on=date.today().isoformat())
    write_report(report, out / "report.html", audience="full")
    write_report(report, out / "report.pdf", audience="customer")
    write_report(report, out / "report-full.pdf", audience="full")
    write_report(report, out / "figures.csv")
    write_claims(claim_sheet(report), out / "claims.html")
    try:
        write_posting(report, out / POSTING)
    except NothingToPost:
        (out / POSTING).unlink(missing_ok=True)  # one of an earlier run would be of other figures


def _figures(result: PhotoResult | None) -> list[str]:
    if result is None or result.refused:
        return ["refused" if result else "-"] * 3
    record = result.record
    figures = (record["density_mm_per_cm2"]["all"], record["longest_scratch_mm"], record["score"])
    return ["-" if figure is None else f"{figure:.1f}" for figure in figures]
