"""The filmed spot of `defectmap demo`: a job of its own, as its figures stand apart from photographs'."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from defectmap.commands.demo_files import write_files
from defectmap.commands.terminal import measuring, progress_bar
from defectmap.outputs import write_file
from defectmap.record.keeping import PhotoResult, results_of
from defectmap.record.measuring import measure_job
from defectmap.record.results import compare
from defectmap.record.sample_job import FILM_JOB_FILE, load_sample_job
from defectmap.record.store import Store
from defectmap.record.whole import film_of
from defectmap.trade.stages import BASELINE, PROOF
from defectmap.words.changes import full_change, kept_change
from defectmap.words.film_words import share_words

FOLDER = "films"  # of what is written about them


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoFilms:
    """What the demo says and shows of the filmed spot."""

    words: str
    pictures: Mapping[str, str]  # files in `FOLDER`, and what each shows


def show_films(store: Store, samples: Path, out: Path) -> DemoFilms:
    """Measure and compare the sample films, write their files, and say what came of it."""
    from defectmap.report.fromjob import report_from_job
    from defectmap.report.writing import write_report

    reference = load_sample_job(store, samples, job_file=FILM_JOB_FILE)
    with progress_bar() as bar:
        measure_job(store, reference, progress=measuring(bar, "measuring the films"))
    results = list(results_of(store, reference).values())
    sides = {one.photograph.stage: one for one in results}
    before, after = sides[BASELINE], sides[PROOF]
    found = compare(store, reference, before.photograph.panel)
    for result in results:
        write_files(store, result, out / FOLDER)
    pictures = dict(_written(store, {"before": before, "after": after}, out / FOLDER))
    report = report_from_job(store, reference, made_on=date.today().isoformat())
    write_report(report, out / FOLDER / "report.html", audience="full")
    write_report(report, out / FOLDER / "report.pdf", audience="customer")
    common = found.result["density_mm_per_cm2"]["all"]
    change = full_change(kept_change(common))
    densities = [one.record["density_mm_per_cm2"]["all"] for one in (before, after)]
    shares = [share_words(one.record["film"]["directions_share"]) for one in (before, after)]
    words = (
        f"One spot filmed while the lamp moves: {densities[0]:.1f} -> {densities[1]:.1f} mm/cm² (own zone; "
        f"before {shares[0]}, after {shares[1]}), {change} (common directions, "
        f"{common['before']:.1f} -> {common['after']:.1f} mm/cm²). Films count marks of all lamp places."
    )
    return DemoFilms(words=words, pictures=pictures)


def _written(store: Store, sides: Mapping[str, PhotoResult], folder: Path) -> Iterator[tuple[str, str]]:
    """Write the pictures that only films have: their names, and what each shows."""
    from defectmap.pages.images import directions_jpeg, film_pair_jpegs

    films = {side: film_of(store, result) for side, result in sides.items()}
    for side, jpeg in zip(films, film_pair_jpegs(films["before"], films["after"]), strict=True):
        write_file(folder / f"fused-{side}.jpg", jpeg)
        yield f"fused-{side}.jpg", f"{side}: the light of all lamp places"
    for side in films:
        stem = Path(sides[side].photograph.name).stem
        yield f"{stem}-overlay.jpg", f"{side}: marks found"
    for side, film in films.items():
        write_file(folder / f"directions-{side}.jpg", directions_jpeg(film))
        yield (f"directions-{side}.jpg", f"{side}: directions that could show; blue: none could")
