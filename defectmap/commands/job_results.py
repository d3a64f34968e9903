"""`defectmap job measure`, `compare`, `verify`, `export` and `import`."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from defectmap.commands.job_shared import AfterStage, BeforeStage, Job, Json, PanelOption, Setup, record
from defectmap.commands.printing import REFUSED, STANDARD_OUTPUT, number, say, table, write_json
from defectmap.comparison.contract import reduced
from defectmap.comparison.films_apart import film_share, left_out_words
from defectmap.errors import NotInRecord, OldResult, PanelNotComparable
from defectmap.record import results
from defectmap.record.measuring import measure_job
from defectmap.record.overview import overview
from defectmap.record.results import ready_panels
from defectmap.record.shop_style import screen_writer
from defectmap.trade.stages import BASELINE, PROOF, stage_named
from defectmap.words.counting import counted
from defectmap.words.film_words import FILMS_APART
from defectmap.words.writer import ENGLISH, Writer

if TYPE_CHECKING:
    from defectmap.record.comparisons import ComparisonRecord

WRONG = 1


def measure(
    ctx: typer.Context,
    reference: Job,
    workers: Annotated[
        int, typer.Option(metavar="N", help="Number of processes; 0 uses one for each core.")
    ] = 0,
    renew: Annotated[
        bool, typer.Option("--renew", help="Also what another version measured; old results stay.")
    ] = False,
) -> None:
    """Measure every photograph of a job that has no result yet."""
    from defectmap.commands.film_bar import film_bar
    from defectmap.commands.terminal import measuring, progress_bar

    with record(ctx) as store, progress_bar() as bar:
        progress = measuring(bar)
        with film_bar(bar, store, reference):
            run = measure_job(store, reference, renew=renew, workers=workers, progress=progress)
    say(f"Measured {counted(run.measured, 'photograph')}.")
    for line in run.refused:
        say(f"Refused: {line}", error=True)
    for line in run.failed:
        say(f"Not measured: {line}", error=True)
    raise typer.Exit(REFUSED if run.refused or run.failed else 0)


def compare(
    ctx: typer.Context,
    reference: Job,
    panel: PanelOption = None,
    before: BeforeStage = BASELINE,
    after: AfterStage = PROOF,
    setup: Setup = None,
    json_file: Json = None,
) -> None:
    """Compare the panels of a job before and after; the results are kept."""
    from defectmap.commands.terminal import progress_bar

    before, after = stage_named(before), stage_named(after)
    found = []
    refused: list[str] = []
    with record(ctx) as store:
        names = (panel,) if panel else ready_panels(overview(store, reference), before=before, after=after)
        if not names:
            raise NotInRecord(f"No panel is photographed both {before} and {after}; add the missing side.")
        with progress_bar() as bar:
            for name in bar.track(names, description="comparing"):
                try:
                    found.append(
                        results.compare(store, reference, name, before=before, after=after, setup=setup)
                    )
                except (PanelNotComparable, OldResult) as error:
                    refused.append(str(error))
        writer = screen_writer(store)
    write_json(found, json_file)
    if json_file != STANDARD_OUTPUT:
        _print_comparisons(found, writer)
    for line in refused:
        say(f"Refused: {line}", error=True)
    raise typer.Exit(REFUSED if refused else 0)


def verify(
    ctx: typer.Context,
    reference: Annotated[
        str | None, typer.Argument(metavar="[JOB]", help="The job (default: the whole record).")
    ] = None,
    again: Annotated[
        bool, typer.Option("--again", help="Also measure again what this version measured.")
    ] = False,
    json_file: Json = None,
) -> None:
    """Check every original against its hash and every result against what made it; changes nothing.

    Exit status 1 where something is wrong.
    """
    from defectmap.record.verifying import verify as check

    with record(ctx) as store:
        report = check(store, reference, again=again)
    write_json(report, json_file)
    if json_file != STANDARD_OUTPUT:
        for finding in report.findings:
            say(
                f"{'Wrong' if finding.wrong else 'Note'}: {finding.kind}: {finding.where}: {finding.sentence}"
            )
        verdict = "everything is in order" if report.sound else "see what is wrong above"
        say(f"Checked {report.originals} originals and {report.results} results: {verdict}.")
    raise typer.Exit(0 if report.sound else WRONG)


def export(
    ctx: typer.Context,
    reference: Job,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="File to write; must not exist.")],
    with_customer: Annotated[
        bool, typer.Option("--with-customer", help="With the reference to the customer; else without.")
    ] = False,
) -> None:
    """Write a job with its photographs and results into one file.

    Whose vehicle it is, and signatures, stay in the record.
    """
    from defectmap.record.transfer import export_job

    with record(ctx) as store:
        export_job(store, reference, file, with_customer=with_customer)
    say(f"Wrote job {reference} to {file}.")


def import_file(
    ctx: typer.Context,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A file made by export.")],
    reference: Annotated[
        str | None, typer.Option("--as", metavar="JOB", help="Import it as a copy of this reference.")
    ] = None,
) -> None:
    """Take a job file into the record; nothing there is overwritten."""
    from defectmap.record.transfer import import_job

    with record(ctx) as store:
        job = import_job(store, file, as_reference=reference)
    say(f"Imported job {job.reference}.")


def _print_comparisons(found: Sequence[ComparisonRecord], writer: Writer) -> None:
    rows = [comparison_row(one.panel, one.result, writer) for one in found]
    say("Densities are of the common area; where photographs cannot be compared, of each one's own zone.")
    for one in found:
        if one.old:
            say(f"{one.panel}: compared in an earlier way: old figures. Measure the job anew to renew them.")
    table(("panel", "of", "comparable", "density before", "after", "change", "95 % interval", "word"), rows)
    for one in found:
        for reason in one.result.get("reasons", ()):
            say(f"{one.panel}: {reason}")
        for sentence in left_out_words(one.result):
            say(f"{one.panel}: {sentence}")
    if any(film_share(one.result) is not None for one in found):
        say(FILMS_APART)


def comparison_row(panel: str, result: Any, writer: Writer = ENGLISH) -> tuple[object, ...]:
    """One line of the table of comparisons."""
    density = (result.get("density_mm_per_cm2") or {}).get("all") or {}
    change, interval = density.get("change_percent"), density.get("ci95_percent")
    share = film_share(result)
    return (
        panel,
        "photographs" if share is None else f"films, {share:.0f} %",
        result.get("comparable"),
        _density(density.get("before"), result, writer),
        _density(density.get("after"), result, writer),
        "–" if change is None else f"{change:+.0f} %",
        "–" if not interval else " to ".join("–" if end is None else f"{end:+.0f}" for end in interval),
        (result.get("claim") or {}).get("word", "") if reduced(result) else "",
    )


def _density(value: float | None, result: Any, writer: Writer) -> str:
    """A density in the shop's unit; a mere number where a photograph has no scale."""
    no_scale = any(one.get("code") == "uncalibrated" for one in result.get("warning_details") or ())
    if value is None or no_scale:
        return number(value)
    return writer.tell("{density:.1f density}", density=value)
