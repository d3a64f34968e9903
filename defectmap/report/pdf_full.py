"""What the full version of the PDF adds: every figure, the film, the method, every photograph."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from defectmap.report.content import PanelSection, PhotographEntry, Report, StrengthRow
from defectmap.report.layout import bar_share, panel_facts, strength_note
from defectmap.report.paper import AFTER, BEFORE, QUIET, SMALL_PT, PaperPages, change_lines


def full_version(sheet: PaperPages, report: Report) -> None:
    """Draw it below what every reader gets."""
    _figures(sheet, report)
    _film(sheet, report)
    _method(sheet, report)
    _photographs(sheet, report)


def strength_bars(sheet: PaperPages, rows: Sequence[StrengthRow], note: str) -> None:
    """Draw density by strength of mark, before over after, below a note on what it is."""
    if not rows:
        return
    tell = sheet.writer.tell
    sheet.heading(tell("Fine marks and strong ones"), need=58)
    sheet.say(note, SMALL_PT, colour=QUIET)
    widest = max(max(row.before, row.after) for row in rows)
    width, base = sheet.epw / len(rows), sheet.get_y() + 24
    for number, row in enumerate(rows):
        left = sheet.l_margin + number * width
        for at, (value, text, colour) in enumerate(
            ((row.before, row.before_text, BEFORE), (row.after, row.after_text, AFTER))
        ):
            tall = 18 * bar_share(value, widest)
            sheet.set_fill_color(*colour)
            if tall > 0:
                sheet.rect(left + 6 + at * 13, base - tall, 11, tall, style="F")
            sheet.set_xy(left + 6 + at * 13, base - tall - 4)
            sheet.ink(SMALL_PT)
            sheet.cell(11, 4, text, align="C")
        sheet.set_xy(left, base + 0.6)
        sheet.ink(SMALL_PT, colour=QUIET)
        sheet.cell(36, 4, row.at_least, align="C")
    sheet.set_xy(sheet.l_margin, base + 5)
    sheet.say(tell("Grey: before. Blue: after."), SMALL_PT, colour=QUIET)


def _figures(sheet: PaperPages, report: Report) -> None:
    tell = sheet.writer.tell
    sheet.add_page()
    sheet.heading(tell("All figures, panel by panel"))
    for panel in report.panels:
        _panel(sheet, panel, strength_note(report))
    if report.together:
        sheet.heading(tell("All compared panels: mean density"))
        head = (tell("Figure"), tell("Before"), tell("After"), tell("Unit"), tell("Change"))
        rows = [
            (row.name, row.before_text, row.after_text, row.unit, change_lines(row, sheet.writer))
            for row in report.together
        ]
        sheet.grid(head, rows, widths=(40, 16, 16, 20, 80), numbers="LRRLL")
    if report.sample is not None:
        row = report.sample
        sheet.say(
            tell(
                "Taken as a sample of such panels, from which another panel could be foretold: {before} to "
                "{after} {unit} on average, {change} (range {range}).",
                before=row.before_text,
                after=row.after_text,
                unit=row.unit,
                change=row.change_text,
                range=row.interval_text,
            )
        )


def _panel(sheet: PaperPages, panel: PanelSection, note: str) -> None:
    tell = sheet.writer.tell
    sheet.heading(panel.name, need=60)
    sheet.say(panel.headline)
    rows = [
        (row.name, row.before_text, row.after_text, row.unit, change_lines(row, sheet.writer), row.note)
        for row in panel.figures
    ]
    head = (tell("Figure"), tell("Before"), tell("After"), tell("Unit"), tell("Change"), tell("Note"))
    sheet.grid(head, rows, widths=(25, 14, 14, 24, 40, 36), numbers="LRRLLL")
    sheet.say(" ".join(panel_facts(panel, writer=sheet.writer)))
    for extra in filter(None, (panel.by_hand, panel.rebound)):
        sheet.say(extra)
    sheet.bullets((*panel.reasons, *panel.notes, *panel.warnings))
    strength_bars(sheet, panel.strength, note)


def _film(sheet: PaperPages, report: Report) -> None:
    if not report.films:
        return
    tell = sheet.writer.tell
    sheet.heading(tell("Film thickness and clear coat"), need=40)
    head = (
        tell("Panel"),
        tell("Thinnest place"),
        tell("Mean"),
        tell("Readings"),
        tell("Taken off in this job, by the tables"),
        tell("May still come off"),
    )
    rows = [(f.panel, f.thinnest, f.mean, f.readings, f.spent, f.allowed) for f in report.films]
    sheet.grid(head, rows, widths=(30, 20, 16, 34, 34, 20), numbers="LRRLLR")
    sheet.bullets(report.film_assumptions)
    for film in report.films:
        if film.remarks:
            sheet.say(f"{film.panel}: {' '.join(film.remarks)}")


def _method(sheet: PaperPages, report: Report) -> None:
    sheet.heading(sheet.writer.tell("Conditions"))
    sheet.bullets(report.conditions)
    for passage in report.method:
        sheet.heading(passage.heading)
        sheet.bullets(passage.sentences)


def _photographs(sheet: PaperPages, report: Report) -> None:
    tell = sheet.writer.tell
    sheet.heading(tell("Photographs"), need=60)
    sheet.say(
        tell(
            "Each figure can be made again from these files with {program}. SHA-256 of the unchanged files:",
            program=report.program,
        )
    )
    head = (
        tell("Panel, place, stage"),
        tell("Taken"),
        tell("Exposure and scale"),
        tell("Zone"),
        tell("Faintest mark that shows"),
        "SHA-256",
    )
    rows = [row for photo in report.photographs for row in _photograph(sheet, photo)]
    sheet.grid(head, rows, widths=(30, 24, 33, 13, 28, 50))


def _photograph(sheet: PaperPages, photo: PhotographEntry) -> Iterator[tuple[str, ...]]:
    """Its row of the table, and one as wide as the table for what is to be said of it."""
    yield (
        "\n".join(filter(None, (f"{photo.panel}, {photo.spot}, {photo.stage}", photo.name))),
        f"{photo.taken}\n{photo.size}",
        f"{photo.exposure}\n{photo.scale}",
        photo.area,
        photo.limit,
        photo.sha256,
    )
    refused = [sheet.writer.tell("Refused: {why}", why=photo.refused)] if photo.refused else []
    for words in (*refused, *photo.warnings):
        yield (f"{sheet.writer.tell('Note')}: {words}",)
