"""What the looking, measuring and planning commands of `defectmap job` do."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from defectmap.commands.job_entries import record
from defectmap.commands.job_rows import comparison_row, status_row
from defectmap.commands.job_rows import entries as list_entries
from defectmap.commands.job_shared import Where
from defectmap.commands.printing import STANDARD_OUTPUT, number, say, table, write_json
from defectmap.errors import AlreadyInRecord, NotInRecord, OldResult, PanelNotComparable
from defectmap.record import results
from defectmap.record.agreed import target_words
from defectmap.record.overview import overview
from defectmap.record.results import ready_panels, tables_of
from defectmap.record.sealing import plain
from defectmap.record.shop_style import shop_writer
from defectmap.record.store import TABLES_FILE
from defectmap.trade.advice import Advice
from defectmap.trade.removal import removed
from defectmap.trade.tables import SHIPPED
from defectmap.words.counting import counted
from defectmap.words.trade_words import told, told_all

if TYPE_CHECKING:
    from defectmap.record.comparisons import ComparisonRecord

REFUSED = 3
WRONG = 1

_TOLD = ("why", "measured", "cautions", "alternatives", "questions")


def status(place: Where, reference: str, *, entries: bool, json_file: Path | None) -> None:
    """Print a job at a glance."""
    with record(place) as store:
        look = overview(store, reference)
        write_json(look, json_file)
        if json_file == STANDARD_OUTPUT:
            return
        job = look.job
        said = ", ".join(word for word in (job.kind, job.vehicle, job.colour, job.paint) if word)
        say(f"Job {job.reference}: {said}")
        say(
            f"{counted(look.photographs, 'photograph')}, {look.unmeasured} not measured, "
            f"{look.refused} refused; record in {store.folder}"
        )
        say(f"Good enough: {target_words(job.target)}.")
        if entries:
            for one in job.earlier_targets:
                say(f"  until {shop_writer(store).moment(one.until)}: {target_words(one.target)}")
        rows = [status_row(panel) for panel in look.panels]
        headers = ("panel", "stage", "photographs", "density before", "after", "score", "readings", "notes")
        say("Densities are of each photograph's own zone; `job compare` gives those of the common area.")
        if look.old:
            say(
                f"{counted(look.old, 'photograph')} measured in an earlier way: old figures; to renew: "
                f"`defectmap job measure {reference} --renew`."
            )
        table(headers, rows)
        if any(not s.figures.calibrated for p in look.panels for st in p.stages for s in st.measured):
            say("Some photographs are uncalibrated: their densities are relative.")
        if entries:
            list_entries(store, reference, look)


def measure(place: Where, reference: str, *, workers: int, renew: bool) -> int:
    """Measure what is unmeasured; the exit status says whether something was refused."""
    from defectmap.commands.terminal import progress_bar

    with record(place) as store, progress_bar() as bar:
        task = bar.add_task("measuring", total=None)

        def progress(done: int, total: int, what: str) -> None:
            bar.update(task, completed=done, total=total, description=f"measuring {what}")

        run = results.measure(store, reference, renew=renew, workers=workers, progress=progress)
    say(f"Measured {counted(run.measured, 'photograph')}.")
    for line in run.refused:
        say(f"Refused: {line}", error=True)
    for line in run.failed:
        say(f"Not measured: {line}", error=True)
    return REFUSED if run.refused or run.failed else 0


def compare(
    place: Where,
    reference: str,
    *,
    panel: str | None,
    stages: tuple[str, str],
    setup: str | None,
    json_file: Path | None,
) -> int:
    """Compare one panel, or every one photographed at both stages; the exit status tells of a refusal."""
    from defectmap.commands.terminal import progress_bar
    from defectmap.trade.stages import stage_named

    before, after = (stage_named(stage) for stage in stages)
    found = []
    refused: list[str] = []
    with record(place) as store:
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
    write_json(found, json_file)
    if json_file != STANDARD_OUTPUT:
        _print_comparisons(found)
    for line in refused:
        say(f"Refused: {line}", error=True)
    return REFUSED if refused else 0


def _print_comparisons(found: Sequence[ComparisonRecord]) -> None:
    rows = [comparison_row(one.panel, one.result) for one in found]
    say("Densities are of the common area; where photographs cannot be compared, of each one's own zone.")
    for one in found:
        if one.old:
            say(f"{one.panel}: compared in an earlier way: old figures. Measure the job anew to renew them.")
    table(("panel", "comparable", "density before", "after", "change", "95 % interval", "word"), rows)
    for one in found:
        for reason in one.result.get("reasons", ()):
            say(f"{one.panel}: {reason}")


def next_step(
    place: Where, reference: str, *, panel: str | None, setup: str | None, json_file: Path | None
) -> None:
    """Print the next step of each panel and why."""
    with record(place) as store:
        found = results.advise(store, reference, panel=panel, setup=setup)
    write_json([advice_json(one.advice) for one in found], json_file)
    if json_file == STANDARD_OUTPUT:
        return
    for one in found:
        advice = one.advice
        step = f": {advice.rung.name}, {counted(advice.sets, 'set')}" if advice.rung else ""
        say(f"{advice.panel}: {advice.action}{step}")
        for line in told_all((*advice.why, *advice.questions, *advice.alternatives)):
            say(f"  {line}")
        if advice.measured:
            say(f"  Measured: {'; '.join(told_all(advice.measured))}.")
    for caution in told_all([caution for one in found for caution in one.advice.cautions]):
        say(f"Caution: {caution}")


def advice_json(advice: Advice) -> dict[str, Any]:
    """Advice as JSON: sentences for people, and the codes behind them for programs."""
    words = {name: told_all(getattr(advice, name)) for name in _TOLD}
    codes = {f"{name}_codes": [one.record() for one in getattr(advice, name)] for name in _TOLD}
    return {**plain(advice), **words, **codes}


def budget(place: Where, reference: str, *, json_file: Path | None) -> None:
    """Print what the clear coat still allows."""
    with record(place) as store:
        found = results.advise(store, reference)
    write_json([{"thickness": one.thickness, "budget": one.budget} for one in found], json_file)
    if json_file == STANDARD_OUTPUT:
        return
    rows = [
        (
            one.budget.panel,
            number(one.thickness.mean_um, 0),
            number(one.thickness.minimum_um, 0),
            f"{one.budget.clear_um.low:.0f} to {one.budget.clear_um.high:.0f}",
            number(one.budget.keep_um, 0),
            f"{one.budget.spent_um.low:g} to {one.budget.spent_um.high:g}",
            number(one.budget.left_um) if one.budget.known else "not measured",
        )
        for one in found
    ]
    table(("panel", "film, µm", "thinnest", "clear coat assumed", "keep", "spent", "may come off"), rows)
    for sentence in told_all([one.budget.assumption for one in found]):
        say(sentence)
    for one in found:
        for remark in told_all(one.budget.remarks):
            say(f"{one.budget.panel}: {remark}")
        for spot in one.removal.places:
            say(f"{one.budget.panel}: {told(removed(spot, one.removal.estimated_um))}")


def export(place: Where, reference: str, file: Path, *, with_customer: bool) -> None:
    """Write a job into one file."""
    from defectmap.record.transfer import export_job

    with record(place) as store:
        export_job(store, reference, file, with_customer=with_customer)
    say(f"Wrote job {reference} to {file}.")


def import_file(place: Where, file: Path, *, reference: str | None) -> None:
    """Take a job file in."""
    from defectmap.record.transfer import import_job

    with record(place) as store:
        job = import_job(store, file, as_reference=reference)
    say(f"Imported job {job.reference}.")


def verify(place: Where, reference: str | None, *, again: bool, json_file: Path | None) -> int:
    """Check the record; the exit status says whether something is wrong."""
    from defectmap.record.verifying import verify as check

    with record(place) as store:
        report = check(store, reference, again=again)
    write_json(report, json_file)
    if json_file != STANDARD_OUTPUT:
        for finding in report.findings:
            say(
                f"{'Wrong' if finding.wrong else 'Note'}: {finding.kind}: {finding.where}: {finding.sentence}"
            )
        verdict = "everything is in order" if report.sound else "see what is wrong above"
        say(f"Checked {report.originals} originals and {report.results} results: {verdict}.")
    return 0 if report.sound else WRONG


def tables(place: Where, *, copy: bool) -> None:
    """Check the trade tables; copy them for editing."""
    with record(place) as store:
        own = store.folder / TABLES_FILE
        if copy:
            if own.exists():
                raise AlreadyInRecord(f"{own} exists and was left alone; edit it there.")
            shutil.copyfile(SHIPPED, own)
        trade = tables_of(store)
        say(f"{own} is used." if own.exists() else f"The shipped tables are used; {own} would come first.")
    rows = [
        (rung.key, rung.name, f"{rung.removal_um.low:g} to {rung.removal_um.high:g}", rung.sets, rung.source)
        for rung in trade.ladder
    ]
    table(("step", "name", "µm a set", "sets", "source"), rows)
    low, high = trade.sets.movements.low, trade.sets.movements.high
    say(f"A set is {low:g} to {high:g} movements over one section with one charge ({trade.sets.source}).")
    gauge = trade.gauge
    say(f"Gauge: ±({gauge.um:g} µm + {gauge.percent:g} %), {gauge.source}.")
    say(f"Film: {trade.film.source}. Least effect: {trade.effect.source}. Times: {trade.times.source}.")
    say(f"Protection: {', '.join(f'{kind.key} ({kind.source})' for kind in trade.protection)}.")
    say(f"Checklists: {', '.join(trade.checklists)}.")
