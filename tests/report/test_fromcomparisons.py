"""Reports of files that were just compared."""

from __future__ import annotations

import re
from pathlib import Path

import pypdfium2 as pdfium
import pytest

from defectmap.comparison.compare import compare_shots
from defectmap.outputs import OutputError
from defectmap.report.fromcomparisons import ComparedPanel, report_from_comparisons
from defectmap.report.writing import write_report
from tests.comparison import phantoms


@pytest.fixture(scope="module")
def compared() -> ComparedPanel:
    shots = [phantoms.before()], [phantoms.after()]
    found = compare_shots(*shots, before_stage="decontaminated", after_stage="wiped")
    return ComparedPanel(name="hood", found=found, before=shots[0], after=shots[1])


def test_figures_are_those_of_the_comparison(compared: ComparedPanel) -> None:
    report = report_from_comparisons([compared], made_on="2026-05-13")
    change = compared.found.change("density all")
    row = report.panels[0].figure("density all")
    assert (row.before, row.after, row.change_percent) == (change.before, change.after, change.change_percent)
    assert row.ci95_percent == change.ci95_percent
    assert report.panels[0].word == "removed"
    assert len(report.panels[0].pairs) == 2
    assert report.panels[0].why_left == ""


def test_file_names_are_not_given_away(compared: ComparedPanel) -> None:
    report = report_from_comparisons([compared], made_on="2026-05-13")
    assert "before.jpg" not in repr(report)
    assert [photo.sha256 for photo in report.photographs] == [
        phantoms.before().photo.facts.sha256,
        phantoms.after().photo.facts.sha256,
    ]


def test_same_file_twice_is_not_comparable_and_has_no_pictures() -> None:
    shot = phantoms.before()
    found = compare_shots([shot], [shot])
    panel = ComparedPanel(name="hood", found=found, before=[shot], after=[shot])
    report = report_from_comparisons([panel], made_on="2026-05-13")
    assert not report.panels[0].compared
    assert report.panels[0].pairs == ()
    assert report.typical is None
    assert report.headline == "Before and after cannot be compared."


@pytest.mark.parametrize("ending", [".html", ".pdf"])
def test_compare_writes_the_form_that_the_ending_says(
    compared: ComparedPanel, tmp_path: Path, ending: str
) -> None:
    path = tmp_path / f"report{ending}"
    report = report_from_comparisons([compared], made_on="2026-05-13")
    write_report(report, path, audience="full")
    if ending == ".pdf":
        words = " ".join(page.get_textpage().get_text_bounded() for page in pdfium.PdfDocument(path))
    else:
        words = path.read_text(encoding="utf-8")
    assert "hood" in words
    assert re.search(r"reduced by \d+ %", words)
    with pytest.raises(OutputError, match="must end in"):
        write_report(report, tmp_path / "report.docx")
