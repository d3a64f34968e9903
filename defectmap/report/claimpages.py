"""The claim sheet as HTML and as PDF."""

from __future__ import annotations

from defectmap.report.claims import ClaimSheet, Statement
from defectmap.report.page import render
from defectmap.report.paper import QUIET, SMALL_PT, TONES, Paper, Sheet

SUPPORTED, NOT_SUPPORTED = "Supported", "Not supported"


def claims_html(sheet: ClaimSheet) -> str:
    """The sheet as one HTML file that refers to nothing outside itself."""
    return render("claims.html.jinja", sheet=sheet, supported=SUPPORTED, not_supported=NOT_SUPPORTED)


def claims_pdf(sheet: ClaimSheet, *, paper: Paper = "A4") -> bytes:
    """The sheet as a PDF."""
    title = ", ".join(filter(None, (sheet.title, sheet.reference)))
    page = Sheet(title=title, day=sheet.made_on, foot=f"{title} · {sheet.program}", paper=paper)
    page.say(title, 17, bold=True)
    page.say(f"For the shop. Made on {sheet.made_on}.", SMALL_PT, colour=QUIET)
    page.heading("Every measured panel")
    page.grid(("Panel", "Visible marks"), sheet.panels, widths=(1, 2))
    for word, wanted in ((SUPPORTED, True), (NOT_SUPPORTED, False)):
        page.heading(word)
        for statement in sheet.statements:
            if statement.supported is wanted:
                _statement(page, statement)
        if wanted:
            _nothing_supported(page, sheet)
    page.heading("Belongs to every supported sentence")
    page.bullets(sheet.say_with_it)
    page.heading("Rules")
    page.bullets(sheet.rules)
    return bytes(page.output())


def _statement(page: Sheet, statement: Statement) -> None:
    page.need(16)
    mark, tone = ("✓", "better") if statement.supported else ("×", "worse")
    page.ink(bold=True, colour=TONES["better" if tone == "better" else "worse"])
    page.cell(5, 4.6, mark)
    page.say(f"“{statement.words}”", bold=True, after=0.2)
    for why in statement.why:
        page.say(why, SMALL_PT, colour=QUIET, after=0.2)
    page.set_xy(page.l_margin, page.get_y() + 1.6)


def _nothing_supported(page: Sheet, sheet: ClaimSheet) -> None:
    if not any(statement.supported for statement in sheet.statements):
        page.say("None of the sentences looked at.")
