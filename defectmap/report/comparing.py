"""The report of `defectmap compare --report`."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path

from defectmap.comparison.compare import Shot
from defectmap.comparison.outcome import Comparison
from defectmap.report.content import Audience
from defectmap.report.fromcomparisons import ComparedPanel, report_from_comparisons
from defectmap.report.writing import write_report


def write_comparison_report(
    found: Comparison,
    before: Sequence[Shot],
    after: Sequence[Shot],
    path: Path,
    *,
    audience: Audience = "full",
    made_on: str | None = None,
) -> None:
    """Write the report of one comparison, .html or .pdf.

    Parameters
    ----------
    found : Comparison
        What was compared.
    before, after : sequence of Shot
        The photographs, as they were compared.
    path : Path
        File to write.
    audience : {"customer", "full"}, optional
        Full if not given: whoever compares files by hand wants every figure.
    made_on : str, optional
        Day, ISO 8601; today if not given.

    Raises
    ------
    OutputError
        The ending is another one, or the file cannot be written.
    """
    panel = ComparedPanel(name="Place compared", found=found, before=before, after=after)
    report = report_from_comparisons([panel], made_on=made_on or date.today().isoformat())
    write_report(report, path, audience=audience)
