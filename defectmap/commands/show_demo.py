"""`defectmap demo`: the sample job measured, written to a folder with its report, and shown."""

from __future__ import annotations

import html
import json
import webbrowser
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from rich import box
from rich.table import Table

import defectmap
from defectmap.commands.measure_photos import (
    REFUSED,
    MeasureOptions,
    PhotoResult,
    measure_file,
    print_refusals,
)
from defectmap.commands.terminal import console, progress_bar
from defectmap.errors import DefectmapError
from defectmap.outputs import writing
from defectmap.panel.codec import json_text
from defectmap.panel.photo import photograph as photo
from defectmap.report.demo_report import POSTING, DemoReport
from defectmap.words.changes import full_change

if TYPE_CHECKING:
    from defectmap.report.fromcomparisons import ComparedPanel

Side = Literal["before", "after"]
SIDES: tuple[Side, Side] = ("before", "after")
JOB_FILE = "job.json"


class SamplesNotFound(DefectmapError):
    """The sample job is not on this computer, or not where it was said to be."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SamplePhoto:
    """One photograph of the sample job."""

    panel: str
    side: Side
    path: Path
    px_per_mm: float


@dataclass(slots=True)
class SamplePanel:
    """One panel's photographs and results, filled in as the demo goes."""

    name: str
    photos: dict[Side, SamplePhoto] = field(default_factory=dict)
    results: dict[Side, PhotoResult] = field(default_factory=dict)


def run_demo(*, out: Path, samples: Path | None, open_browser: bool) -> int:
    """Measure the sample job, write records, zones, overlays and a page into `out`, print a table.

    Returns
    -------
    int
        Exit status: 0, or 3 where a photograph was refused.

    Raises
    ------
    SamplesNotFound
        No sample job in `samples`, beside the package or in the current folder.
    """
    panels = read_job(find_samples(samples))
    changes: dict[str, str] = {}
    evidence = DemoReport(samples=find_samples(samples))
    with progress_bar() as progress:
        task = progress.add_task("measuring", total=sum(len(panel.photos) for panel in panels))
        for panel in panels:
            for side, sample in panel.photos.items():
                progress.update(task, description=f"measuring {sample.path.name}")
                panel.results[side] = _measure(sample, out)
                progress.advance(task)
            found = compare_panel(panel, stages=evidence.stages)
            changes[panel.name] = outcome_words(found)
            evidence.add(panel.name, found, {side: one.record for side, one in panel.results.items()})
            panel.results = {side: result.without_zone() for side, result in panel.results.items()}
    evidence.write(out)
    page = out / "index.html"
    with writing(page):
        page.write_text(demo_page(panels, changes, posting=(out / POSTING).exists()), encoding="utf-8")
    results = [result for panel in panels for result in panel.results.values()]
    screen = console()
    screen.print(demo_table(panels, changes))
    print_refusals(results)
    screen.print(
        f"Records, zone masks, overlays and the report are in {out}; open {page} to see them.", markup=False
    )
    if open_browser and screen.is_terminal:
        webbrowser.open(page.resolve().as_uri())
    return REFUSED if any(result.measurement is None for result in results) else 0


def read_job(folder: Path) -> list[SamplePanel]:
    """Read the sample job's panels and their photographs, in the job's order."""
    job = json.loads((folder / JOB_FILE).read_text(encoding="utf-8"))
    panels = {panel["name"]: SamplePanel(panel["name"]) for panel in job["panels"]}
    for entry in job["photographs"]:
        panels[entry["panel"]].photos[entry["stage"]] = SamplePhoto(
            panel=entry["panel"],
            side=entry["stage"],
            path=folder / entry["file"],
            px_per_mm=float(entry["px_per_mm"]),
        )
    return list(panels.values())


def compare_panel(panel: SamplePanel, *, stages: Mapping[Side, Any]) -> ComparedPanel | None:
    """Compare a panel's two photographs; None where one of them was not measured."""
    from defectmap.comparison.compare import Shot, compare_shots
    from defectmap.report.fromcomparisons import ComparedPanel

    shots: list[Shot] = []
    for side in SIDES:
        result = panel.results.get(side)
        if result is None or result.measurement is None:
            return None
        shots.append(Shot(photo=photo.load(panel.photos[side].path), measured=result.measurement))
    found = compare_shots(
        shots[:1], shots[1:], before_stage=stages.get("before"), after_stage=stages.get("after")
    )
    return ComparedPanel(
        name=panel.name,
        found=found,
        before=shots[:1],
        after=shots[1:],
        before_stage=stages.get("before") or "before",
        after_stage=stages.get("after") or "after",
    )


def outcome_words(compared: ComparedPanel | None) -> str:
    """Say how the density of all marks changed, with its interval, or that no change can be given."""
    if compared is None:
        return "not measured"
    if not compared.found.changes:
        return "not comparable"
    return full_change(compared.found.change("density all"))


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


def demo_table(panels: Sequence[SamplePanel], changes: Mapping[str, str]) -> Table:
    """One row a panel: density, longest scratch and score, before and after, and the change."""
    title = "The sample job: before -> after, and the change of all marks with its 95 % interval"
    table = Table(title=title, title_justify="left", box=box.SIMPLE_HEAD)
    table.add_column("panel")
    for head in ("all marks\nmm/cm²", "longest scratch\nmm", "score\nof 100"):
        table.add_column(head, justify="right")
    table.add_column("change")
    for panel in panels:
        before, after = (_figures(panel.results.get(side)) for side in SIDES)
        pairs = (f"{first} -> {second}" for first, second in zip(before, after, strict=True))
        table.add_row(panel.name, *pairs, changes[panel.name])
    return table


def _measure(sample: SamplePhoto, out: Path) -> PhotoResult:
    stem = sample.path.stem
    result = measure_file(
        sample.path,
        MeasureOptions(px_per_mm=sample.px_per_mm),
        zone=out / f"{stem}-zone.png",
        overlay=out / f"{stem}-overlay.jpg",
    )
    record = out / f"{stem}.json"
    with writing(record):
        record.write_text(json_text(result.record), encoding="utf-8")
    return result


def _figures(result: PhotoResult | None) -> list[str]:
    measured = result.measurement if result else None
    if measured is None:
        return ["refused" if result else "-"] * 3
    figures = (measured.density.all, measured.longest_scratch_mm, measured.score)
    return [f"{figure:.1f}" for figure in figures]


_PAGE = """<!doctype html>
<html lang="en">
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>The sample job</title>
<style>
body {{ font-family: system-ui, sans-serif; margin: 1.5rem auto; max-width: 90rem; padding: 0 1rem; }}
section {{ display: grid; grid-template-columns: repeat(auto-fit, minmax(22rem, 1fr)); gap: 1rem; }}
img {{ width: 100%; height: auto; }}
figure {{ margin: 0; }}
</style>
<h1>The sample job, before and after correction</h1>
<p>An invented car, rendered, not photographed. Figures are of the marks that this light shows.</p>
<p>The report: <a href="report.html">page</a>, <a href="report.pdf">PDF for the customer</a>,
<a href="report-full.pdf">full PDF</a>, <a href="figures.csv">figures</a>,
{posting}<a href="claims.html">what may be said in advertising</a>.</p>
{panels}
</html>
"""


def demo_page(panels: Sequence[SamplePanel], changes: Mapping[str, str], *, posting: bool = False) -> str:
    """Return a plain page with each panel's overlays side by side; the files lie beside it."""
    parts = []
    for panel in panels:
        figures = "".join(_figure(panel.photos[side], result) for side, result in panel.results.items())
        change = html.escape(changes[panel.name])
        parts.append(
            f"<h2>{html.escape(panel.name)}</h2>\n<p>All marks: {change}</p>\n<section>{figures}</section>"
        )
    link = f'<a href="{POSTING}">picture for posting</a>, ' if posting else ""
    return _PAGE.format(panels="\n".join(parts), posting=link)


def _figure(sample: SamplePhoto, result: PhotoResult) -> str:
    measured = result.measurement
    if measured is None:
        reason = html.escape(result.record["refused"])
        return f"<figure><figcaption>{sample.side}: {reason}</figcaption></figure>"
    words = (
        f"{sample.side}: {measured.density.all:.2f} mm/cm² of marks, longest scratch "
        f"{measured.longest_scratch_mm:.1f} mm, score {measured.score:.1f} of 100"
    )
    picture = html.escape(f"{sample.path.stem}-overlay.jpg", quote=True)
    return (
        f'<figure><a href="{picture}"><img src="{picture}" alt="{html.escape(sample.panel)}, {words}"></a>'
        f"<figcaption>{words}</figcaption></figure>"
    )
