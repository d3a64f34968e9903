"""The papers of a job as PDF, drawn from `car_papers`."""

from __future__ import annotations

import io
from collections.abc import Sequence

from defectmap.pictures.car_shapes import CAR, GLASS, HEIGHT, Box
from defectmap.report.paper import BODY_PT, GAP_MM, INK, LINE, QUIET, SMALL_PT, PaperPages
from defectmap.report.paper_content import CarPaper, DamageLine
from defectmap.trade.quoting import QuoteLine
from defectmap.words.style import Style
from defectmap.words.work_words import work_words
from defectmap.words.writer import N_

PLAN_MM = 62.0  # width of the car's plan
DOT_MM = 4.4
PHOTO_MM = 40.0
SIGNATURE_MM = (60.0, 18.0)


def paper_pdf(paper: CarPaper, style: Style, *, made_on: str) -> bytes:
    """Draw a paper.

    Parameters
    ----------
    style : Style
        Language, units, dates and size of paper.
    made_on : str
        Day of the file, ISO 8601; the same paper gives the same bytes.
    """
    pages = PaperPages(title=paper.title, day=made_on, foot=paper.title, style=style)
    _head(pages, paper)
    if paper.damage or paper.kind == "intake":
        _damage(pages, paper)
    _panels(pages, paper)
    if paper.work:
        pages.heading(pages.writer.tell("What was done"))
        pages.grid(
            _told(pages, N_("Day"), N_("Panels"), N_("What"), N_("Expected to take")),
            paper.work,
            widths=(14, 24, 44, 18),
        )
    if paper.left:
        left = (
            N_("What is left, and why") if paper.kind == "hand-over" else N_("What is not corrected, and why")
        )
        pages.heading(pages.writer.tell(left))
        pages.grid(_told(pages, N_("Panel"), N_("Left")), paper.left, widths=(22, 78))
    if paper.quote is not None:
        _amounts(pages, paper)
    if paper.care:
        pages.heading(pages.writer.tell("Care"))
        rows = [(one.day, one.words) for one in paper.care]
        pages.grid(_told(pages, N_("Day"), N_("What")), rows, widths=(20, 80))
    if paper.sentences:
        pages.set_y(pages.get_y() + 2)
        pages.bullets(paper.sentences)
    if paper.kind in ("intake", "hand-over"):
        _signature(pages, paper)
    return bytes(pages.output())


def _told(pages: PaperPages, *words: str) -> tuple[str, ...]:
    return tuple(pages.writer.tell(one) for one in words)


def _head(pages: PaperPages, paper: CarPaper) -> None:
    pages.head(paper.shop, paper.mark)
    pages.say(paper.title, 15.0, bold=True)
    pages.say(", ".join(paper.car))
    if paper.keeper:
        pages.say(", ".join(paper.keeper))
    number = f"{pages.writer.tell('Number')} {paper.number} · " if paper.number else ""
    pages.say(f"{number}{paper.day}", SMALL_PT, colour=QUIET)
    pages.rule()
    if paper.agreed:
        pages.heading(pages.writer.tell("Agreed as good enough"))
        pages.say(paper.agreed)


def _damage(pages: PaperPages, paper: CarPaper) -> None:
    title = N_("Damage that is there already") if paper.kind == "intake" else N_("Damage that stays")
    pages.heading(pages.writer.tell(title), need=PLAN_MM * HEIGHT / 100 + 14)
    top, drawn = pages.get_y(), paper.plan == "car"
    if drawn:
        _plan(pages, paper.damage, top)
        pages.set_left_margin(pages.l_margin + PLAN_MM + GAP_MM)
        pages.set_xy(pages.l_margin, top)
    for one in paper.damage:
        pages.say(f"{one.number}  {pages.writer.term(one.panel)}: {one.what}", bold=True, after=0.2)
        if one.stays:
            pages.say(one.stays, SMALL_PT, colour=QUIET)
    if not paper.damage:
        pages.say(pages.writer.tell("None was marked."))
    if drawn:
        pages.set_left_margin(pages.l_margin - PLAN_MM - GAP_MM)
        pages.set_xy(pages.l_margin, max(pages.get_y(), top + PLAN_MM * HEIGHT / 100) + 2)
    _photographs(pages, [one for one in paper.damage if one.jpeg is not None])


def _plan(pages: PaperPages, damage: Sequence[DamageLine], top: float) -> None:
    """The car from above, unfolded, with a numbered dot for each damage."""
    unit = PLAN_MM / 100
    pages.set_line_width(0.2)
    for box in CAR.values():
        _shape(pages, box, top, unit, fill=(246, 247, 248))
    for box in GLASS:
        _shape(pages, box, top, unit, fill=(225, 230, 234))
    for one in damage:
        place = one.at or _middle(CAR.get(one.panel))
        if place is None:
            continue
        x = pages.l_margin + place[0] * PLAN_MM
        y = top + place[1] * HEIGHT * unit
        _dot(pages, x, y, one.number)


def _dot(pages: PaperPages, x: float, y: float, number: int) -> None:
    """A numbered dot about a point, ringed so that it shows on a photograph too."""
    pages.set_fill_color(*INK)
    pages.set_draw_color(255)
    pages.set_line_width(0.3)
    pages.ellipse(x - DOT_MM / 2, y - DOT_MM / 2, DOT_MM, DOT_MM, style="DF")
    pages.ink(SMALL_PT, bold=True, colour=(255, 255, 255))
    pages.set_xy(x - DOT_MM / 2, y - DOT_MM / 2)
    pages.cell(DOT_MM, DOT_MM, str(number), align="C")


def _shape(pages: PaperPages, box: Box, top: float, unit: float, *, fill: tuple[int, int, int]) -> None:
    left, down, width, height = (share * unit for share in box)
    pages.set_fill_color(*fill)
    pages.set_draw_color(*LINE)
    pages.rect(
        pages.l_margin + left, top + down, width, height, style="DF", round_corners=True, corner_radius=1.2
    )


def _middle(box: Box | None) -> tuple[float, float] | None:
    if box is None:
        return None
    return ((box[0] + box[2] / 2) / 100, (box[1] + box[3] / 2) / HEIGHT)


def _photographs(pages: PaperPages, damage: Sequence[DamageLine]) -> None:
    """The photographs of damage in rows, each with its number on it."""
    shown = [(one, _fitted(one.jpeg)) for one in damage if one.jpeg is not None]
    a_row = int((pages.epw + GAP_MM) // (PHOTO_MM + GAP_MM))
    for first in range(0, len(shown), a_row):
        row = shown[first : first + a_row]
        height = max(size[1] for _, size in row)
        pages.need(height + 4)
        top = pages.get_y()
        for place, (one, (wide, high)) in enumerate(row):
            x = pages.l_margin + place * (PHOTO_MM + GAP_MM)
            picture = io.BytesIO(one.jpeg or b"")
            pages.image(picture, x=x, y=top, w=wide, h=high, alt_text=one.what)
            _dot(pages, x + 3, top + 3, one.number)
        pages.set_xy(pages.l_margin, top + height + 3)


def _fitted(jpeg: bytes) -> tuple[float, float]:
    """Width and height of a picture in mm, within a square of `PHOTO_MM`."""
    from PIL import Image

    with Image.open(io.BytesIO(jpeg)) as opened:
        wide, high = opened.size
    scale = PHOTO_MM / max(wide, high)
    return wide * scale, high * scale


def _panels(pages: PaperPages, paper: CarPaper) -> None:
    if not paper.panels:
        return
    if paper.kind == "intake":
        pages.heading(pages.writer.tell("Panels"))
        pages.grid(
            _told(pages, N_("Panel"), N_("What it is"), N_("Thinnest film")),
            paper.panels,
            widths=(26, 54, 20),
            numbers="LLR",
        )
        return
    pages.heading(pages.writer.tell("Film thickness"))
    head = _told(
        pages,
        N_("Panel"),
        N_("Thinnest now"),
        N_("Came off, by the gauge"),
        N_("Steps were expected to take"),
    )
    pages.grid(head, paper.panels, widths=(22, 16, 34, 28), numbers="LLLL")


def _amounts(pages: PaperPages, paper: CarPaper) -> None:
    found, writer = paper.quote, pages.writer
    if found is None:
        return
    pages.heading(writer.tell("Work") if paper.kind == "quote" else writer.tell("Work done"))
    rows = [
        (
            work_words(line.what, line.detail, writer=writer),
            _counted(pages, line),
            writer.money(line.amount) if found.priced else "",
        )
        for line in found.lines
    ]
    pages.grid(_told(pages, N_("What"), "", N_("Amount")), rows, widths=(62, 18, 20), numbers="LRR")
    if not found.priced:
        pages.say(writer.tell("No prices are entered in the shop's tables."))
        return
    for words, amount in ((N_("Net"), found.net), (N_("Tax"), found.tax), (N_("Total"), found.total)):
        share = writer.tell(" {share:g} %", share=float(found.tax_percent)) if words == "Tax" else ""
        pages.ink(BODY_PT, bold=words == "Total")
        pages.cell(
            pages.epw,
            5.4,
            f"{writer.tell(words)}{share}   {writer.money(amount)}",
            align="R",
            new_x="LMARGIN",
            new_y="NEXT",
        )


def _counted(pages: PaperPages, line: QuoteLine) -> str:
    if line.hours is not None:
        return pages.writer.tell("{hours:.2f} h", hours=float(line.hours))
    return (
        ""
        if line.pieces is None
        else pages.writer.tell_many("{number} panel", "{number} panels", line.pieces)
    )


def _signature(pages: PaperPages, paper: CarPaper) -> None:
    width, height = SIGNATURE_MM
    pages.need(height + 26)
    pages.set_y(pages.get_y() + 4)
    if paper.consent:
        pages.say(paper.consent)
    top = pages.get_y() + 2
    if paper.signature is not None:
        pages.image(
            io.BytesIO(paper.signature), x=pages.l_margin, y=top, w=width, h=height, keep_aspect_ratio=True
        )
    pages.set_y(top + height)
    pages.set_draw_color(*QUIET)
    pages.line(pages.l_margin, pages.get_y(), pages.l_margin + width, pages.get_y())
    pages.line(pages.l_margin + width + 20, pages.get_y(), pages.l_margin + 2 * width + 20, pages.get_y())
    pages.ink(SMALL_PT, colour=QUIET)
    pages.cell(width + 20, 5, paper.signed or pages.writer.tell("Customer, day"))
    pages.cell(width, 5, pages.writer.tell("Shop, day"))
