"""Write a report, its table, its picture for posting and its claims to files, by their endings."""

from __future__ import annotations

from pathlib import Path

from defectmap.outputs import OutputError, write_file
from defectmap.report.claims import ClaimSheet
from defectmap.report.content import Audience, Report

REPORT_ENDINGS = (".html", ".pdf", ".csv")
CLAIM_ENDINGS = (".html", ".pdf")


def write_report(report: Report, path: Path, *, audience: Audience = "customer") -> None:
    """Write the report as .html or .pdf, or its figures as .csv.

    Raises
    ------
    OutputError
        The ending is another one, or the file cannot be written.
    """
    ending = _ending(path, REPORT_ENDINGS)
    if ending == ".html":
        from defectmap.report.page import report_html

        data = report_html(report, audience=audience).encode()
    elif ending == ".pdf":
        from defectmap.report.pdf import report_pdf

        data = report_pdf(report, audience=audience)
    else:
        from defectmap.report.table import report_table

        data = report_table(report).encode("utf-8-sig")
    write_file(path, data)


def write_claims(sheet: ClaimSheet, path: Path) -> None:
    """Write the claim sheet as .html or .pdf.

    Raises
    ------
    OutputError
        The ending is another one, or the file cannot be written.
    """
    from defectmap.report.claimpages import claims_html, claims_pdf

    ending = _ending(path, CLAIM_ENDINGS)
    write_file(path, claims_html(sheet).encode() if ending == ".html" else claims_pdf(sheet))


def write_posting(report: Report, path: Path, *, panel: str | None = None) -> None:
    """Write the picture for posting as .jpg.

    Raises
    ------
    OutputError
        The ending is another one, or the file cannot be written.
    NothingToPost
        The panel cannot be compared.
    """
    from defectmap.report.posting import posting_picture

    _ending(path, (".jpg", ".jpeg"))
    write_file(path, posting_picture(report, panel=panel))


def _ending(path: Path, known: tuple[str, ...]) -> str:
    ending = path.suffix.lower()
    if ending not in known:
        raise OutputError(f"{path} must end in {', '.join(known[:-1])} or {known[-1]}.")
    return ending
