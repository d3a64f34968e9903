"""The report as a PDF, drawn from the same content as the page."""

from __future__ import annotations

from defectmap.report.content import Audience, FigureRow, PanelSection, Report, StepEntry
from defectmap.report.layout import SIGNS, bar_share, facts_of, left_heading, other_pairs, widest_bar
from defectmap.report.method import IN_SHORT
from defectmap.report.paper import (
    AFTER,
    BEFORE,
    BODY_PT,
    HEAD_PT,
    INK,
    MM_PER_PT,
    QUIET,
    SMALL_PT,
    TONES,
    Paper,
    Sheet,
    change_lines,
)

TITLE_PT, HEADLINE_PT = 12.0, 17.0
ROW_MM = 12.2
SMALLEST_MM, LARGEST_MM = 50.0, 72.0  # side of the pictures on the first page
OTHERS_MM = 62.0  # three to a page
SPARE_MM = 4.0  # the second and later lines of a step stand in from its number
RULE = "Chosen by rule: of all compared panels, the one whose change stands in the middle."
_FIGURES = ("Figure", "Before", "After", "Unit", "Change", "Note")


def report_pdf(report: Report, *, audience: Audience = "customer", paper: Paper = "A4") -> bytes:
    """Draw the PDF.

    Parameters
    ----------
    report : Report
        What it says.
    audience : {"customer", "full"}, optional
        The customer's version is short, its first page enough; the full one adds every figure, method, limits
        and hashes.
    paper : {"A4", "Letter"}, optional
        Size of the pages.

    Returns
    -------
    bytes
        The file; the same report gives the same bytes.
    """
    facts = facts_of(report)
    title = ", ".join(filter(None, (report.title, report.reference)))
    version = "full version" if audience == "full" else "customer's version"
    sheet = Sheet(
        title=title, day=report.made_on, foot=f"{title} · {version} · {report.program}", paper=paper
    )
    _first_page(sheet, report, facts)
    _work(sheet, report)
    _in_short(sheet)
    _pictures(sheet, report, audience)
    if audience == "full":
        _figures(sheet, report)
        _film(sheet, report)
        _method(sheet, report)
        _photographs(sheet, report)
    return bytes(sheet.output())


def _first_page(sheet: Sheet, report: Report, facts: tuple[str, ...]) -> None:
    if report.shop:
        sheet.say(report.shop, bold=True, after=0.4)
    sheet.say(report.title, TITLE_PT, bold=True, after=0.4)
    sheet.say(" · ".join(facts), SMALL_PT, colour=QUIET, after=0.8)
    sheet.rule(thick=0.5, colour=INK)
    sheet.set_y(sheet.get_y() + 3)
    sheet.say(report.headline, HEADLINE_PT, bold=True, after=1.8)
    for sentence in report.summary:
        sheet.say(sentence, after=0.8)
    _bars(sheet, report)
    if report.typical is not None:
        middle = "The panel in the middle: " if len(report.panels) > 1 else ""
        sheet.heading(f"{middle}{report.typical.panel}")
        sheet.pair(report.typical, side=_side_mm(sheet, report, report.typical.caption))
        if len(report.panels) > 1:
            sheet.say(RULE, SMALL_PT, colour=QUIET)
    _left(sheet, report)


def _side_mm(sheet: Sheet, report: Report, caption: str) -> float:
    """Side of the pictures on the first page, so that all else stays on it, or all but how to read it."""
    room = sheet.page_break_trigger - sheet.get_y() - _below_mm(sheet, report, caption)
    if room - _in_short_mm(sheet) >= SMALLEST_MM:
        room -= _in_short_mm(sheet)
    return min(LARGEST_MM, max(SMALLEST_MM, room))


def _in_short_mm(sheet: Sheet) -> float:
    return _heading_mm(sheet) + sum(sheet.height_of(sentence) for sentence in IN_SHORT)


def _heading_mm(sheet: Sheet) -> float:
    return 2.5 + sheet.height_of("Heading", HEAD_PT, bold=True)


def _below_mm(sheet: Sheet, report: Report, caption: str) -> float:
    """Height of all that stands below the pictures of the first page before how to read it."""
    heading = _heading_mm(sheet)
    tall = 5 + sheet.height_of(caption, SMALL_PT)
    if len(report.panels) > 1:
        tall += sheet.height_of(RULE, SMALL_PT)
    if report.left:
        tall += heading
    for entry in report.left:
        tall += sheet.height_of(entry.panels, bold=True, after=0) + sheet.height_of(
            entry.what, SMALL_PT, after=1.4
        )
        tall += sheet.height_of(entry.why, after=0) if entry.why else 0
    if report.steps:
        tall += heading
    for step in report.steps:
        tall += sheet.height_of(step.what, after=0) + sheet.height_of(_when(step), SMALL_PT)
    return tall + SPARE_MM


def _bars(sheet: Sheet, report: Report) -> None:
    if not report.panels:
        return
    sheet.set_y(sheet.get_y() + 1.5)
    sheet.say("Visible marks, mm of line for each cm² of paint", SMALL_PT, colour=QUIET, after=0.6)
    sheet.rule()
    widest = widest_bar(report)
    for panel in report.panels:
        _bar_row(sheet, panel, widest)


def _bar_row(sheet: Sheet, panel: PanelSection, widest: float) -> None:
    row = panel.figure("density all")
    reason = "" if panel.compared or not panel.reasons else panel.reasons[0]
    sheet.need(ROW_MM + (8 if reason else 0))
    top, left = sheet.get_y() + 1.2, sheet.l_margin
    name, bars = 0.26 * sheet.epw, 0.4 * sheet.epw
    sheet.set_xy(left, top)
    sheet.say(panel.name, bold=True, width=name - 2, after=0)
    low = sheet.get_y()
    for number, (side, value, words) in enumerate(
        (("before", row.before, row.before_text), ("after", row.after, row.after_text))
    ):
        y = top + number * 4.6
        sheet.set_xy(left + name, y)
        sheet.ink(SMALL_PT, colour=QUIET)
        sheet.cell(12, 4, side)
        sheet.set_fill_color(*(BEFORE if side == "before" else AFTER))
        length = (bars - 26) * bar_share(value, widest)
        if length > 0 and panel.compared:  # bars would invite the very comparison that is refused
            sheet.rect(left + name + 12, y + 0.6, length, 2.8, style="F")
        sheet.set_xy(left + name + bars - 14, y)
        sheet.ink(SMALL_PT)
        sheet.cell(10, 4, words, align="R")
    _change(sheet, row, panel, left + name + bars, top, reason)
    sheet.set_y(max(sheet.get_y(), low, top + 9.6) + 0.8)
    sheet.rule()


def _change(sheet: Sheet, row: FigureRow, panel: PanelSection, x: float, y: float, reason: str) -> None:
    width = sheet.w - sheet.r_margin - x
    sheet.set_xy(x, y)
    sheet.say(
        f"{SIGNS[row.outcome]} {row.change_text}", bold=True, colour=TONES[row.tone], width=width, after=0.2
    )
    if row.interval_text:
        sheet.say(f"95 % interval: {row.interval_text}", SMALL_PT, colour=QUIET, width=width, after=0)
    if reason:
        sheet.say(reason, SMALL_PT, colour=QUIET, width=width, after=0)
    if not panel.calibrated:
        sheet.say(f"in {row.unit}", SMALL_PT, colour=QUIET, width=width, after=0)


def _left(sheet: Sheet, report: Report) -> None:
    if not report.left:
        return
    sheet.heading(left_heading(report))
    for entry in report.left:
        sheet.need(14)
        sheet.say(entry.panels, bold=True, after=0)
        if entry.why:
            sheet.say(entry.why, after=0)
        sheet.say(entry.what, SMALL_PT, colour=QUIET, after=1.4)


def _work(sheet: Sheet, report: Report) -> None:
    if not report.steps:
        return
    sheet.heading("What was done")
    for number, step in enumerate(report.steps, start=1):
        sheet.need(10)
        sheet.ink()
        sheet.cell(6, BODY_PT * MM_PER_PT * 1.38, f"{number}.")
        sheet.say(step.what, after=0)
        sheet.say(_when(step), SMALL_PT, colour=QUIET)
        sheet.set_x(sheet.l_margin)


def _when(step: StepEntry) -> str:
    takes = f"; may have taken {step.takes} of clear coat a panel" if step.takes else ""
    return f"{step.panels}, {step.when}{takes}"


def _in_short(sheet: Sheet) -> None:
    sheet.heading("How to read this", need=_in_short_mm(sheet))
    for sentence in IN_SHORT:
        sheet.say(sentence)


def _pictures(sheet: Sheet, report: Report, audience: Audience) -> None:
    pairs = other_pairs(report, audience)
    side = (sheet.epw - 4) / 2 if audience == "full" else OTHERS_MM
    for number, pair in enumerate(pairs):
        if number == 0:
            sheet.heading("All pictures" if audience == "full" else "The other panels", need=side + 24)
        sheet.need(side + 20)
        sheet.say(pair.panel, bold=True, after=0.8)
        sheet.pair(pair, side=side)
        sheet.set_y(sheet.get_y() + 1.5)


def _figures(sheet: Sheet, report: Report) -> None:
    sheet.add_page()
    sheet.heading("All figures, panel by panel")
    for panel in report.panels:
        _panel(sheet, panel)
    if report.together:
        sheet.heading("All compared panels")
        rows = [(row.name, change_lines(row)) for row in report.together]
        sheet.grid(("Figure", "Mean of the panels' changes"), rows, widths=(1, 2))
    if report.sample is not None:
        row = report.sample
        sheet.say(
            "Taken as a sample of such panels, from which another panel could be foretold: "
            f"{row.before_text} to {row.after_text} {row.unit} on average, {row.change_text} "
            f"(95 % interval {row.interval_text})."
        )


def _panel(sheet: Sheet, panel: PanelSection) -> None:
    sheet.heading(panel.name, need=60)
    sheet.say(panel.headline)
    rows = [
        (row.name, row.before_text, row.after_text, row.unit, change_lines(row), row.note)
        for row in panel.figures
    ]
    sheet.grid(_FIGURES, rows, widths=(25, 13, 13, 16, 46, 40), numbers="LRRLLL")
    places = "1 place" if panel.spots == 1 else f"{panel.spots} places"
    supported = f" The word that the record supports: {panel.word}. {panel.word_reason}"
    sheet.say(
        f"Comparable: {panel.verdict}. {places} photographed; the intervals speak of {panel.scope}."
        + (supported if panel.supported_word else "")
    )
    if panel.rebound:
        sheet.say(panel.rebound)
    sheet.bullets((*panel.reasons, *panel.notes, *panel.warnings))


def _film(sheet: Sheet, report: Report) -> None:
    if not report.films:
        return
    sheet.heading("Film thickness and clear coat", need=40)
    head = (
        "Panel",
        "Thinnest place",
        "Mean",
        "Readings",
        "Taken off in this job, by the tables",
        "May still come off",
    )
    rows = [(f.panel, f.thinnest, f.mean, f.readings, f.spent, f.allowed) for f in report.films]
    sheet.grid(head, rows, widths=(30, 20, 16, 34, 34, 20), numbers="LRRLLR")
    sheet.bullets(report.film_assumptions)
    for film in report.films:
        if film.remarks:
            sheet.say(f"{film.panel}: {' '.join(film.remarks)}")


def _method(sheet: Sheet, report: Report) -> None:
    sheet.heading("Conditions")
    sheet.bullets(report.conditions)
    for passage in report.method:
        sheet.heading(passage.heading)
        sheet.bullets(passage.sentences)


def _photographs(sheet: Sheet, report: Report) -> None:
    sheet.heading("Photographs", need=40)
    sheet.say(
        f"Each figure can be made again from these files with {report.program}. SHA-256 of the unchanged "
        "files:"
    )
    rows = []
    for photo in report.photographs:
        where = "\n".join(filter(None, (f"{photo.panel}, {photo.spot}, {photo.stage}", photo.name)))
        limit = f"Refused: {photo.refused}" if photo.refused else photo.limit
        remarks = "\n".join((limit, *photo.warnings))
        taken = f"{photo.taken}\n{photo.size}"
        rows.append((where, taken, f"{photo.exposure}\n{photo.scale}", photo.area, remarks, photo.sha256))
    head = ("Panel, place, stage", "Taken", "Exposure and scale", "Zone", "Faintest mark counted", "SHA-256")
    sheet.grid(head, rows, widths=(30, 24, 33, 13, 28, 50))
