"""The report as a PDF, drawn from the same content as the page: what every reader gets."""

from __future__ import annotations

from defectmap.report.content import Audience, FigureRow, PanelSection, Report
from defectmap.report.layout import (
    SIGNS,
    bar_share,
    bars_heading,
    facts_of,
    left_heading,
    other_pairs,
    step_line,
    strength_note,
    widest_bar,
)
from defectmap.report.method import in_short
from defectmap.report.paper import (
    AFTER,
    BEFORE,
    BODY_PT,
    GAP_MM,
    HEAD_PT,
    INK,
    MM_PER_PT,
    QUIET,
    SMALL_PT,
    TONES,
    PaperPages,
)
from defectmap.report.pdf_full import full_version, strength_bars

TITLE_PT, HEADLINE_PT = 12.0, 17.0
ROW_MM = 12.2
SIDE_MM = 15.0  # column of the words before and after


def report_pdf(report: Report, *, audience: Audience = "customer") -> bytes:
    """Draw the PDF.

    Parameters
    ----------
    report : Report
        What it says, in which language and on which paper.
    audience : {"customer", "full"}, optional
        The customer's version is short, its first page enough; the full one adds every figure, method, limits
        and hashes.

    Returns
    -------
    bytes
        The file; the same report gives the same bytes.
    """
    title = ", ".join(filter(None, (report.title, report.reference)))
    sheet = PaperPages(title=title, day=report.made_on, foot="", style=report.style)
    tell = sheet.writer.tell
    version = tell("full version") if audience == "full" else tell("customer's version")
    sheet.foot = f"{title} · {version} · {report.program}"
    _first_page(sheet, report)
    _agreed(sheet, report)
    _left(sheet, report)
    _work(sheet, report)
    strength_bars(sheet, report.strength, strength_note(report))
    _in_short(sheet, report)
    _pictures(sheet, report, audience)
    if audience == "full":
        full_version(sheet, report)
    return bytes(sheet.output())


def _first_page(sheet: PaperPages, report: Report) -> None:
    sheet.head(report.shop, report.mark)
    sheet.say(report.title, TITLE_PT, bold=True, after=0.4)
    sheet.say(" · ".join(facts_of(report)), SMALL_PT, colour=QUIET, after=0.8)
    sheet.rule(thick=0.5, colour=INK)
    sheet.set_y(sheet.get_y() + 3)
    sheet.say(report.headline, HEADLINE_PT, bold=True, after=1.8)
    for sentence in report.summary:
        sheet.say(sentence, after=0.8)
    _bars(sheet, report)
    if report.typical is not None:
        several = len(report.panels) > 1
        tell = sheet.writer.tell
        panel = report.typical.panel
        words = tell("The panel in the middle: {panel}", panel=panel) if several else panel
        sheet.heading(words, need=(sheet.epw - GAP_MM) / 2 + 22)
        sheet.pair(report.typical)  # as wide as the paper
        if several:
            rule = tell("Chosen by rule: of all compared panels, the one whose change stands in the middle.")
            sheet.say(rule, SMALL_PT, colour=QUIET)


def _bars(sheet: PaperPages, report: Report) -> None:
    if not report.panels:
        return
    sheet.set_y(sheet.get_y() + 1.5)
    sheet.say(bars_heading(report), SMALL_PT, colour=QUIET, after=0.6)
    sheet.rule()
    widest = widest_bar(report)
    for panel in report.panels:
        _bar_row(sheet, panel, widest)


def _bar_row(sheet: PaperPages, panel: PanelSection, widest: float) -> None:
    row = panel.figure("density all")
    reason = "" if panel.compared or not panel.reasons else panel.reasons[0]
    sheet.need(ROW_MM + (8 if reason else 0))
    top, left = sheet.get_y() + 1.2, sheet.l_margin
    name, bars = 0.26 * sheet.epw, 0.4 * sheet.epw
    sheet.set_xy(left, top)
    sheet.say(panel.name, bold=True, width=name - 2, after=0)
    low = sheet.get_y()
    tell = sheet.writer.tell
    for number, (word, colour, value, words) in enumerate(
        (
            (tell("before"), BEFORE, row.before, row.before_text),
            (tell("after"), AFTER, row.after, row.after_text),
        )
    ):
        y = top + number * 4.6
        sheet.set_xy(left + name, y)
        sheet.ink(SMALL_PT, colour=QUIET)
        sheet.cell(SIDE_MM, 4, word)
        sheet.set_fill_color(*colour)
        length = (bars - SIDE_MM - 14) * bar_share(value, widest)
        if length > 0 and panel.compared:  # bars would invite the very comparison that is refused
            sheet.rect(left + name + SIDE_MM, y + 0.6, length, 2.8, style="F")
        sheet.set_xy(left + name + bars - 14, y)
        sheet.ink(SMALL_PT)
        sheet.cell(10, 4, words, align="R")
    _change(sheet, row, panel, left + name + bars, top, reason)
    sheet.set_y(max(sheet.get_y(), low, top + 9.6) + 0.8)
    sheet.rule()


def _change(sheet: PaperPages, row: FigureRow, panel: PanelSection, x: float, y: float, reason: str) -> None:
    width = sheet.w - sheet.r_margin - x
    sheet.set_xy(x, y)
    sheet.say(
        f"{SIGNS[row.outcome]} {row.change_text}", bold=True, colour=TONES[row.tone], width=width, after=0.2
    )
    tell = sheet.writer.tell
    small = [
        tell("range {range}", range=row.interval_text) if row.interval_text else "",
        reason,
        "" if panel.calibrated else tell("in {unit}", unit=row.unit),
        panel.by_hand,
        panel.filmed,
    ]
    for words in filter(None, small):
        sheet.say(words, SMALL_PT, colour=QUIET, width=width, after=0)


def _agreed(sheet: PaperPages, report: Report) -> None:
    if not report.agreed:
        return
    tell = sheet.writer.tell
    sheet.heading(tell("Agreed, and reached"), need=30)
    head = (tell("Panel"), "", tell("Agreed: at most"), tell("Result"), "")
    rows = [(one.panel, one.what, one.agreed, one.result, one.met_text) for one in report.agreed]
    sheet.grid(head, rows, widths=(34, 38, 26, 42, 36), numbers="LLRRL")


def _left(sheet: PaperPages, report: Report) -> None:
    if report.left:
        sheet.heading(left_heading(report))
        for entry in report.left:
            sheet.need(14)
            sheet.say(entry.panels, bold=True, after=0)
            if entry.why:
                sheet.say(entry.why, after=0)
            sheet.say(entry.what, SMALL_PT, colour=QUIET, after=1.4)
    if report.damage:
        tell = sheet.writer.tell
        sheet.heading(tell("Damage that stays"))
        head = (tell("Panel"), tell("Damage"), tell("Why it stays"))
        rows = [(one.panel, one.what, one.why) for one in report.damage]
        sheet.grid(head, rows, widths=(40, 60, 76))


def _work(sheet: PaperPages, report: Report) -> None:
    if not report.steps:
        return
    sheet.heading(sheet.writer.tell("What was done"))
    for number, step in enumerate(report.steps, start=1):
        sheet.need(10)
        sheet.ink()
        sheet.cell(6, BODY_PT * MM_PER_PT * 1.38, f"{number}.")
        sheet.say(step.what, after=0)
        sheet.say(step_line(step, writer=sheet.writer), SMALL_PT, colour=QUIET)
        sheet.set_x(sheet.l_margin)


def _in_short(sheet: PaperPages, report: Report) -> None:
    sentences = in_short(films=report.filmed, calibrated=report.calibrated, writer=sheet.writer)
    tall = 2.5 + sheet.height_of("Heading", HEAD_PT, bold=True)
    sheet.heading(sheet.writer.tell("How to read this"), need=tall + sum(map(sheet.height_of, sentences)))
    for sentence in sentences:
        sheet.say(sentence)


def _pictures(sheet: PaperPages, report: Report, audience: Audience) -> None:
    tell = sheet.writer.tell
    side = (sheet.epw - GAP_MM) / 2
    for number, pair in enumerate(other_pairs(report, audience)):
        if number == 0:
            words = tell("All pictures") if audience == "full" else tell("The other panels")
            sheet.heading(words, need=side + 24)
        sheet.need(side + 20)
        sheet.say(pair.panel, bold=True, after=0.8)
        sheet.pair(pair)
        sheet.set_y(sheet.get_y() + 1.5)
