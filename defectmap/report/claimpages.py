"""The claim sheet as HTML and as PDF."""

from __future__ import annotations

from defectmap.report.claim_support import Statement
from defectmap.report.claims import ClaimSheet
from defectmap.report.page import render
from defectmap.report.paper import QUIET, SMALL_PT, TONES, PaperPages


def claims_html(sheet: ClaimSheet) -> str:
    """The sheet as one HTML file that refers to nothing outside itself."""
    return render("claims.html.jinja", style=sheet.style, sheet=sheet)


def claims_pdf(sheet: ClaimSheet) -> bytes:
    """The sheet as a PDF."""
    title = ", ".join(filter(None, (sheet.title, sheet.reference)))
    page = PaperPages(title=title, day=sheet.made_on, foot=f"{title} · {sheet.program}", style=sheet.style)
    tell = page.writer.tell
    page.say(title, 17, bold=True)
    page.say(tell("For the shop. Made on {day}.", day=sheet.made_on_text), SMALL_PT, colour=QUIET)
    page.heading(tell("Every measured panel"))
    page.grid((tell("Panel"), tell("Visible marks")), sheet.panels, widths=(1, 2))
    for word, wanted in ((tell("Supported"), True), (tell("Not supported"), False)):
        page.heading(word)
        statements = [one for one in sheet.statements if one.supported is wanted]
        for statement in statements:
            _statement(page, statement)
        if not statements:
            page.say(tell("None of the sentences looked at."))
    page.heading(tell("Belongs to every supported sentence"))
    page.bullets(sheet.say_with_it)
    page.heading(tell("Rules"))
    page.bullets(sheet.rules)
    return bytes(page.output())


def _statement(page: PaperPages, statement: Statement) -> None:
    page.need(16)
    page.ink(bold=True, colour=TONES["better" if statement.supported else "worse"])
    page.cell(5, 4.6, "✓" if statement.supported else "×")
    page.say(page.writer.tell("“{words}”", words=statement.words), bold=True, after=0.2)
    for why in statement.why:
        page.say(why, SMALL_PT, colour=QUIET, after=0.2)
    page.set_xy(page.l_margin, page.get_y() + 1.6)
