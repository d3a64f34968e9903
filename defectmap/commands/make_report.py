"""What `defectmap report` does: make the report of a job once, write every form that was asked for."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from defectmap.commands.printing import say
from defectmap.errors import JobError
from defectmap.record.intake import photographs_of
from defectmap.record.store import Store, open_store
from defectmap.report.blurring import Box, BoxError
from defectmap.report.claims import claim_sheet
from defectmap.report.content import Audience
from defectmap.report.fromjob import report_from_job
from defectmap.report.privacy import PrivacyChoice
from defectmap.report.typical import job_results
from defectmap.report.writing import write_claims, write_posting, write_report
from defectmap.trade.facts import PhotographRecord
from defectmap.trade.stages import stage_named

SHORTEST_HASH = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportOptions:
    """What the person asked for."""

    files: tuple[Path, ...]
    audience: Audience = "customer"
    claims: Path | None = None
    posting: Path | None = None
    panel: str | None = None
    before: str = "decontaminated"
    after: str = "wiped"
    customer_name: bool = False
    file_names: bool = False
    blur: tuple[str, ...] = ()
    record: Path | None = None
    database: str | None = None


def run_report(reference: str, options: ReportOptions) -> None:
    """Write the report of a job in every form that was asked for.

    Raises
    ------
    DefectmapError
        There is no such job, nothing of it is compared, or a file cannot be written.
    """
    store = open_store(options.record, url=options.database)
    try:
        _write(store, reference, options)
    finally:
        store.close()


def _write(store: Store, reference: str, options: ReportOptions) -> None:
    before, after = stage_named(options.before), stage_named(options.after)
    choice = PrivacyChoice(
        customer=options.customer_name,
        file_names=options.file_names,
        blurred=_boxes(options.blur, photographs_of(store, reference)),
    )
    found = report_from_job(
        store,
        reference,
        made_on=date.today().isoformat(),
        before=before,
        after=after,
        choice=choice,
        close_ups=options.audience == "full",
    )
    if not any(panel.compared or panel.spots for panel in found.panels):
        raise JobError(
            f"Nothing of job {reference} is compared between {before!r} and {after!r} yet; run `defectmap "
            f"job measure {reference}` and `defectmap job compare {reference}` first."
        )
    for file in options.files:
        write_report(found, file, audience=options.audience)
    if options.claims is not None:
        jobs = job_results(store, before=before, after=after)
        write_claims(claim_sheet(found, jobs=jobs), options.claims)
    if options.posting is not None:
        write_posting(found, options.posting, panel=options.panel)
    written = [*options.files, *(file for file in (options.claims, options.posting) if file is not None)]
    say(found.headline)
    say(f"Wrote {', '.join(str(file) for file in written)}.")


def _boxes(given: Sequence[str], photographs: Sequence[PhotographRecord]) -> dict[str, list[Box]]:
    boxes: dict[str, list[Box]] = defaultdict(list)
    for words in given:
        name, _, sides = words.rpartition("=")
        boxes[_photograph(name, photographs)].append(_box(words, sides))
    return dict(boxes)


def _photograph(name: str, photographs: Sequence[PhotographRecord]) -> str:
    """SHA-256 of the photograph of that name, or whose hash starts so."""
    found = {
        photo.sha256
        for photo in photographs
        if photo.name == name or (len(name) >= SHORTEST_HASH and photo.sha256.startswith(name.lower()))
    }
    if len(found) != 1:
        which = "no photograph" if not found else "several photographs"
        raise JobError(
            f"--blur {name}: there is {which} of that name in the job; give the first {SHORTEST_HASH} "
            "digits or more of its hash, as the full report lists them."
        )
    return found.pop()


def _box(words: str, sides: str) -> Box:
    try:
        left, top, right, bottom = (float(side) for side in sides.split(","))
    except ValueError:
        raise BoxError(
            f"--blur {words}: write PHOTO=LEFT,TOP,RIGHT,BOTTOM with four shares of the picture from 0 to 1."
        ) from None
    return Box(left=left, top=top, right=right, bottom=bottom)
