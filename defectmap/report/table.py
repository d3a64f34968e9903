"""Every figure of a report as one table (CSV), for a spreadsheet or another program."""

from __future__ import annotations

import csv
import io

from defectmap.report.content import FigureRow, Report

HEAD = (
    "panel",
    "figure",
    "unit",
    "before",
    "after",
    "change_percent",
    "ci95_low_percent",
    "ci95_high_percent",
    "at_least_percent",
    "outcome",
    "comparable",
    "places",
    "word",
    "note",
    "counted_in",  # what the figures are of
)
ALL_PANELS = "(all compared panels, mean change)"
# A spreadsheet takes a cell that starts so for a formula, and runs it.
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def report_table(report: Report) -> str:
    """Every figure of every panel, one a line (RFC 4180, comma, CRLF).

    Parameters
    ----------
    report : Report
        What it says.

    Returns
    -------
    str
        Numbers are plain, with a point; empty where there is none. Words that a spreadsheet would take for a
        formula get an apostrophe in front. Write it as UTF-8 with a byte order mark, or spreadsheets misread
        "mm/cm²".
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(HEAD)
    for panel in report.panels:
        note = " ".join(panel.reasons) if not panel.compared else ""
        for row in panel.figures:
            words = row.note if panel.compared else note
            common = "common directions" if panel.filmed else "common area"
            counted_in = common if panel.compared else "own zone"
            ends = (panel.verdict, str(panel.spots), panel.supported_word, words, counted_in)
            writer.writerow([*_cells(panel.name, row), *map(_cell, ends)])
    for row in report.together:
        writer.writerow([*_cells(ALL_PANELS, row), "", "", "", _cell(row.note), "common area"])
    return out.getvalue()


def _cells(panel: str, row: FigureRow) -> list[str]:
    low, high = row.ci95_percent or (None, None)
    numbers = (row.before, row.after, row.change_percent, low, high, row.at_least_percent)
    return [
        *(_cell(words) for words in (panel, row.figure, row.unit)),
        *("" if number is None else f"{number:.6g}" for number in numbers),
        row.outcome,
    ]


def _cell(words: str) -> str:
    return f"'{words}" if words.startswith(_FORMULA) else words
