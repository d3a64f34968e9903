"""The report: one content, and every form it is given in.

`report_from_job` and `report_from_comparisons` make a frozen `Report`; the HTML page, the PDF, the table of
figures, the picture for posting and the claim sheet are drawn from it and do no arithmetic of their own.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

__all__ = [
    "PrivacyChoice",
    "Report",
    "claim_sheet",
    "posting_picture",
    "report_from_comparisons",
    "report_from_job",
    "report_html",
    "report_pdf",
    "report_table",
    "write_report",
]

if TYPE_CHECKING:
    from defectmap.report.claims import claim_sheet
    from defectmap.report.content import Report
    from defectmap.report.fromcomparisons import report_from_comparisons
    from defectmap.report.fromjob import report_from_job
    from defectmap.report.page import report_html
    from defectmap.report.pdf import report_pdf
    from defectmap.report.posting import posting_picture
    from defectmap.report.privacy import PrivacyChoice
    from defectmap.report.table import report_table
    from defectmap.report.writing import write_report

_HOMES = {
    "PrivacyChoice": "privacy",
    "Report": "content",
    "claim_sheet": "claims",
    "posting_picture": "posting",
    "report_from_comparisons": "fromcomparisons",
    "report_from_job": "fromjob",
    "report_html": "page",
    "report_pdf": "pdf",
    "report_table": "table",
    "write_report": "writing",
}


def __getattr__(name: str) -> Any:
    # The PDF library, the template engine and the database are imported when a report is made.
    if name in _HOMES:
        from importlib import import_module

        return getattr(import_module(f"defectmap.report.{_HOMES[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
