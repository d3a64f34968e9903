"""The table of figures, read back as a spreadsheet would."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest

from defectmap.report.table import HEAD, report_table
from defectmap.report.writing import write_report
from tests.report import made


def read(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline=""), strict=True))


def test_every_figure_of_every_panel_comes_back() -> None:
    report = made.five_panels()
    rows = read(report_table(report))
    assert tuple(rows[0]) == HEAD
    assert len(rows) == 5 * 6 + len(report.together)
    for panel in report.panels:
        for figure in panel.figures:
            (row,) = (r for r in rows if (r["panel"], r["figure"]) == (panel.name, figure.figure))
            for name in ("before", "after", "change_percent"):
                value = getattr(figure, name)
                # six digits are written
                assert (
                    row[name] == "" if value is None else float(row[name]) == pytest.approx(value, rel=1e-5)
                )


def test_not_comparable_has_figures_reason_and_no_percentage() -> None:
    rows = read(report_table(made.report(made.section("roof", made.not_comparable()))))
    marks = rows[0]
    assert (marks["before"], marks["after"], marks["change_percent"], marks["ci95_low_percent"]) == (
        "9",
        "3",
        "",
        "",
    )
    assert marks["outcome"] == "not comparable"
    assert marks["note"].startswith("The lamp is another one")


@pytest.mark.parametrize("name", ["=1+1", "+cmd", "-2", "@sum(a1)"])
def test_a_name_is_no_formula(name: str) -> None:
    # OWASP, CSV injection: a leading apostrophe keeps a spreadsheet from running the cell
    rows = read(report_table(made.report(made.section(name, made.less()))))
    assert rows[0]["panel"] == f"'{name}"
    assert float(rows[0]["change_percent"]) == -80


def test_names_with_commas_quotes_and_lines_keep_their_columns() -> None:
    rows = read(report_table(made.report(made.section('door, "left",\nlower', made.less()))))
    assert rows[0]["panel"] == 'door, "left", lower'
    assert rows[0]["unit"] == "mm/cm²"


def test_file_has_a_byte_order_mark(tmp_path: Path) -> None:
    write_report(made.five_panels(), tmp_path / "figures.csv")
    data = (tmp_path / "figures.csv").read_bytes()
    assert data.startswith(b"\xef\xbb\xbf")
    assert data.count(b"\r\n") == data.count(b"\n")
