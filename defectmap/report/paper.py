"""The paper that PDFs are drawn on: fonts, footer, and the few things that every page is made of.

Everything is drawn with fpdf2's cells, never from HTML. Names go in as plain text (no markdown). The font is
shipped with the program, since the fonts that every PDF viewer has know Latin letters only.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, cast

from fpdf import FPDF
from fpdf.enums import MethodReturnValue, TableBordersLayout, TableCellFillMode, VAlign
from fpdf.fonts import FontFace

from defectmap.report.content import FigureRow, PicturePair, Tone
from defectmap.report.layout import SIGNS
from defectmap.words.style import Style
from defectmap.words.writer import Writer

FONTS = Path(__file__).with_name("fonts")
FAMILY = "DejaVu Sans"
MARGIN_MM = 17.0
GAP_MM = 4.0
BODY_PT, SMALL_PT, HEAD_PT = 9.5, 8.0, 11.0
AFTER_MM = 1.2  # a paragraph
INK, QUIET, LINE = (23, 33, 43), (79, 91, 102), (201, 209, 216)
BEFORE, AFTER = (132, 144, 156), (11, 111, 143)
TONES: dict[Tone, tuple[int, int, int]] = {"better": (11, 95, 122), "worse": (143, 59, 0), "open": QUIET}
MM_PER_PT = 25.4 / 72
MARK_MM = (38.0, 14.0)  # room for the shop's own mark


class PaperPages(FPDF):
    """A document with our font, margins and footer."""

    def __init__(self, *, title: str, day: str, foot: str, style: Style) -> None:
        """Open a document; its date is the report's, so that the same report gives the same file."""
        super().__init__(format=style.paper)
        self.writer = Writer(style)
        self.foot = foot
        self.add_font(FAMILY, "", FONTS / "DejaVuSans.ttf")
        self.add_font(FAMILY, "B", FONTS / "DejaVuSans-Bold.ttf")
        self.set_margin(MARGIN_MM)
        self.c_margin = 0.0  # words stand flush with rules and pictures
        self.set_auto_page_break(True, margin=MARGIN_MM + 2)
        self.set_title(title)
        self.set_lang(style.language)
        self.set_creator("defectmap")
        self.set_creation_date(datetime.fromisoformat(day).replace(tzinfo=UTC))
        self.add_page()

    def footer(self) -> None:
        """Draw what the document is, and the page of how many."""
        self.set_y(-MARGIN_MM + 3)
        self.ink(SMALL_PT, colour=QUIET)
        self.cell(0, 4, self.foot)
        self.set_x(self.l_margin)
        page = self.writer.tell("page {page} of {pages}", page=self.page_no(), pages="{nb}")
        self.cell(0, 4, page, align="R")

    def ink(self, size: float = BODY_PT, *, bold: bool = False, colour: tuple[int, int, int] = INK) -> None:
        """Choose size, weight and colour of what is written next."""
        self.set_font(FAMILY, "B" if bold else "", size)
        self.set_text_color(*colour)

    def say(
        self,
        words: str,
        size: float = BODY_PT,
        *,
        bold: bool = False,
        colour: tuple[int, int, int] = INK,
        width: float = 0.0,
        after: float = AFTER_MM,
    ) -> None:
        """Write a paragraph from the current place and go below it, to the same left edge."""
        left = self.get_x()
        self.ink(size, bold=bold, colour=colour)
        self.multi_cell(width, size * MM_PER_PT * 1.38, words, align="L", new_x="LEFT", new_y="NEXT")
        self.set_xy(left, self.get_y() + after)

    def height_of(self, words: str, size: float = BODY_PT, *, bold: bool = False) -> float:
        """How many mm `say` would take for a paragraph as wide as the page."""
        self.ink(size, bold=bold)
        line = size * MM_PER_PT * 1.38
        lines = self.multi_cell(0, line, words, align="L", dry_run=True, output=MethodReturnValue.LINES)
        return line * len(cast("list[str]", lines)) + AFTER_MM

    def heading(self, words: str, *, need: float = 22.0) -> None:
        """Write a heading that stays with what follows."""
        self.need(need)
        self.set_y(self.get_y() + 2.5)
        self.say(words, HEAD_PT, bold=True)

    def bullets(self, sentences: Sequence[str]) -> None:
        """Write sentences as a list."""
        for sentence in sentences:
            self.ink()
            self.cell(4, BODY_PT * MM_PER_PT * 1.38, "•")
            self.say(sentence)
            self.set_x(self.l_margin)

    def need(self, height: float) -> None:
        """Go to a new page where less than this is left of the current one."""
        if self.get_y() + height > self.page_break_trigger:
            self.add_page()

    def rule(self, *, thick: float = 0.2, colour: tuple[int, int, int] = LINE) -> None:
        """Draw a line across the page."""
        self.set_line_width(thick)
        self.set_draw_color(*colour)
        self.line(self.l_margin, self.get_y(), self.w - self.r_margin, self.get_y())

    def head(self, shop: str | None, mark: bytes | None) -> None:
        """Draw the shop's own mark at the right, and its name."""
        if mark is not None:
            top = self.get_y()
            self.image(
                io.BytesIO(mark),
                x=self.w - self.r_margin - MARK_MM[0],
                y=top,
                w=MARK_MM[0],
                h=MARK_MM[1],
                keep_aspect_ratio=True,
                alt_text=self.writer.tell("Mark of the shop"),
            )
            self.set_y(top)
        if shop:
            self.say(shop, bold=True, width=self.epw - (MARK_MM[0] + GAP_MM if mark else 0), after=0.4)

    def pair(self, pair: PicturePair) -> None:
        """Draw before and after side by side, with their caption."""
        side = (self.epw - GAP_MM) / 2
        tall = side * pair.before.height_px / pair.before.width_px  # a film's pictures are no squares
        self.need(tall + 14)
        top = self.get_y()
        places = (
            (pair.before, self.writer.tell("Before"), self.l_margin),
            (pair.after, self.writer.tell("After"), self.l_margin + side + GAP_MM),
        )
        for picture, word, left in places:
            self.image(io.BytesIO(picture.jpeg), x=left, y=top, w=side, h=tall, alt_text=picture.alt)
            self.set_xy(left, top + tall + 0.8)
            self.ink(SMALL_PT, bold=True)
            self.cell(side, 4, word)
        self.set_xy(self.l_margin, top + tall + 5)
        self.say(pair.caption, SMALL_PT, colour=QUIET)

    def grid(
        self,
        head: Sequence[str],
        rows: Sequence[Sequence[str]],
        *,
        widths: Sequence[float],
        numbers: str = "",
    ) -> None:
        """Draw a table that goes on over pages with its head.

        Parameters
        ----------
        head : sequence of str
            Of the columns.
        rows : sequence of sequence of str
            Cells; a row of one cell is as wide as the table.
        widths : sequence of float
            Of the columns, in any unit.
        numbers : str, optional
            One letter a column: R is right-aligned, anything else left.
        """
        self.ink(SMALL_PT)
        self.set_draw_color(*LINE)
        self.set_fill_color(255)
        options: dict[str, Any] = {
            "col_widths": tuple(widths),
            "text_align": tuple("RIGHT" if c == "R" else "LEFT" for c in numbers.ljust(len(head))),
            "borders_layout": TableBordersLayout.HORIZONTAL_LINES,
            "cell_fill_mode": TableCellFillMode.NONE,
            "headings_style": FontFace(emphasis="BOLD", color=QUIET),
            "line_height": SMALL_PT * MM_PER_PT * 1.4,
            "padding": (0.9, 2, 0.9, 0),
            "width": self.epw,
            "align": "LEFT",
            "v_align": VAlign.T,
        }
        with self.table(**options) as table:
            for cells in (head, *rows):
                line = table.row()
                for words in cells:
                    line.cell(words, colspan=1 if len(cells) > 1 else len(head))
        self.set_y(self.get_y() + 2)


def change_lines(row: FigureRow, writer: Writer) -> str:
    """The change with its sign and interval, for a cell."""
    words = f"{SIGNS[row.outcome]} {row.change_text}"
    if not row.interval_text:
        return words
    return f"{words}\n{writer.tell('range {range}', range=row.interval_text)}"
