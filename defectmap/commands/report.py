"""`defectmap report`: make the report of a job once, write every form that was asked for."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from defectmap.commands.job_shared import AfterStage, BeforeStage, RecordDatabase, RecordFolder
from defectmap.commands.printing import say
from defectmap.errors import JobError
from defectmap.outputs import check_outputs
from defectmap.record.intake import photographs_of
from defectmap.record.signatures import pictures_allowed
from defectmap.record.store import open_store
from defectmap.report.claims import claim_sheet
from defectmap.report.fromjob import report_from_job
from defectmap.report.privacy import BlurBox, BoxError, PrivacyChoice
from defectmap.report.typical import job_results
from defectmap.report.writing import write_claims, write_posting, write_report
from defectmap.trade.facts import PhotographRecord
from defectmap.trade.stages import BASELINE, PROOF, stage_named

SHORTEST_HASH = 8


def report(
    job: Annotated[str, typer.Argument(metavar="JOB", help="The job's reference.")],
    files: Annotated[
        list[Path],
        typer.Argument(metavar="FILE", help="What to write: .html, .pdf, .csv, or several of them."),
    ],
    full: Annotated[
        bool, typer.Option("--full", help="Full version: every figure, method, limits and hashes.")
    ] = False,
    claims: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Also write what may be said in advertising, .html or .pdf."),
    ] = None,
    posting: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Also write one picture sized for posting, .jpg.")
    ] = None,
    panel: Annotated[
        str | None,
        typer.Option(
            metavar="NAME", help="Panel in that picture (default: the one whose change is in the middle)."
        ),
    ] = None,
    before: BeforeStage = BASELINE,
    after: AfterStage = PROOF,
    customer_name: Annotated[
        bool, typer.Option("--customer-name", help="Name the customer as the record does.")
    ] = False,
    file_names: Annotated[
        bool, typer.Option("--file-names", help="Show the names of the photographs' files (full version).")
    ] = False,
    blur: Annotated[
        list[str] | None,
        typer.Option(
            metavar="PHOTO=LEFT,TOP,RIGHT,BOTTOM",
            help="Make a box unreadable (number plate, face): name or start of the hash of a photograph, "
            "and the box as shares of the picture from 0 to 1.",
        ),
    ] = None,
    record: RecordFolder = None,
    database: RecordDatabase = None,
) -> None:
    """Write the report of a job: measured, compared, private by default.

    Compare the job first (`defectmap job compare`). Places, serial numbers and notes are never in a report;
    the customer's name and file names only where asked for.
    """
    stages = stage_named(before), stage_named(after)
    check_outputs([*files, claims, posting])
    store = open_store(record, url=database)
    try:
        allowed = pictures_allowed(store, job) if posting is not None else None
        if allowed is False:
            raise JobError(
                f"The customer of job {job} does not want pictures to be shown; leave --posting out."
            )
        choice = PrivacyChoice(
            customer=customer_name,
            file_names=file_names,
            blurred=_boxes(blur or (), photographs_of(store, job)),
        )
        found = report_from_job(
            store,
            job,
            made_on=date.today().isoformat(),
            before=stages[0],
            after=stages[1],
            choice=choice,
            close_ups=full,
        )
        if not any(panel.compared or panel.spots for panel in found.panels):
            raise JobError(
                f"Nothing of job {job} is compared between {before!r} and {after!r} yet; run `defectmap "
                f"job measure {job}` and `defectmap job compare {job}` first."
            )
        others = job_results(store, before=stages[0], after=stages[1]) if claims else ()
    finally:
        store.close()
    for file in files:
        write_report(found, file, audience="full" if full else "customer")
    if claims is not None:
        write_claims(claim_sheet(found, jobs=others), claims)
    if posting is not None and allowed is None:
        say("Nobody has asked the customer about pictures: see `defectmap job sign`.", error=True)
    if posting is not None:
        write_posting(found, posting, panel=panel)
    written = [*files, *(file for file in (claims, posting) if file is not None)]
    say(found.headline)
    say(f"Wrote {', '.join(str(file) for file in written)}.")


def _boxes(given: Sequence[str], photographs: Sequence[PhotographRecord]) -> dict[str, list[BlurBox]]:
    boxes: dict[str, list[BlurBox]] = defaultdict(list)
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


def _box(words: str, sides: str) -> BlurBox:
    try:
        left, top, right, bottom = (float(side) for side in sides.split(","))
    except ValueError:
        raise BoxError(
            f"--blur {words}: write PHOTO=LEFT,TOP,RIGHT,BOTTOM with four shares of the picture from 0 to 1."
        ) from None
    return BlurBox(left=left, top=top, right=right, bottom=bottom)
