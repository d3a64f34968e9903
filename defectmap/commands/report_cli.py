"""`defectmap report`: parse and call."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def report(
    job: Annotated[str, typer.Argument(metavar="JOB", help="The job's reference.")],
    files: Annotated[
        list[Path],
        typer.Argument(metavar="FILE", help="What to write: .html, .pdf, .csv, or several of them."),
    ],
    full: Annotated[
        bool,
        typer.Option("--full", help="Full version: every figure, method, limits and hashes."),
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
    before: Annotated[str, typer.Option(metavar="STAGE", help="Stage of the first photographs.")] = (
        "decontaminated"
    ),
    after: Annotated[str, typer.Option(metavar="STAGE", help="Stage of the second.")] = "wiped",
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
    record: Annotated[
        Path | None,
        typer.Option("--record", metavar="FOLDER", help="Folder of the record (default: your data folder)."),
    ] = None,
    database: Annotated[
        str | None,
        typer.Option("--database", metavar="URL", help="PostgreSQL database of several bays."),
    ] = None,
) -> None:
    """Write the report of a job: measured, compared, private by default.

    Compare the job first (`defectmap job compare`). Places, serial numbers and notes are never in a report;
    the customer's name and file names only where asked for.
    """
    from defectmap.commands.make_report import ReportOptions, run_report

    options = ReportOptions(
        files=tuple(files),
        audience="full" if full else "customer",
        claims=claims,
        posting=posting,
        panel=panel,
        before=before,
        after=after,
        customer_name=customer_name,
        file_names=file_names,
        blur=tuple(blur or ()),
        record=record,
        database=database,
    )
    run_report(job, options)
