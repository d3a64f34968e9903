"""The capture guide as a PDF: one sheet, two sides, drawn in vectors."""

from __future__ import annotations

from pathlib import Path

from defectmap.outputs import write_file
from defectmap.panel.card import blank_sheet
from defectmap.report.guide_drawing import INK, from_the_side, in_the_frame, write_label
from defectmap.words import guide
from defectmap.words.style import Style
from defectmap.words.writer import Writer

MARGIN_MM = 15.0
LEAD_MM = 26.0  # column of the words that items are found by
BODY_PT, HEAD_PT, TITLE_PT = 10.5, 12.0, 16.0
LINE_MM = 4.9
LINE = 190  # grey code
DRAWING_MM = 58.0
SHRINKS = (1.0, 0.96, 0.92, 0.88, 0.84, 0.8)  # of the usual size of letters


def guide_pdf(*, style: Style | None = None) -> bytes:
    """Draw the guide: two pages, in letters as large as the language lets fit on them.

    Parameters
    ----------
    style : Style, optional
        Language, and sheet of the printer.

    Returns
    -------
    bytes
        A PDF of two pages; the same guide is the same file.
    """
    writer = Writer(style)
    for shrink in SHRINKS:
        sheet = GuideSheet(writer, shrink=shrink)
        if sheet.fits:
            break
    return bytes(sheet.pdf.output())


class GuideSheet:
    """The sheet in one language and one size of letters."""

    def __init__(self, writer: Writer, *, shrink: float) -> None:
        """Draw both sides; `fits` tells whether all of it stays inside the margins."""
        self.tell, self.shrink, self.fits = writer.tell, shrink, True
        self.pdf = blank_sheet(writer.style.paper, title=self.tell(guide.TITLE))  # no page breaks
        self.pdf.set_lang(writer.style.language)
        self.pdf.set_margin(MARGIN_MM)
        self.pdf.c_margin = 0.0
        self.pdf.add_page()
        self._write(guide.TITLE, TITLE_PT, bold=True, after_mm=3)
        top_mm = self.pdf.get_y()
        from_the_side(self.pdf, MARGIN_MM, top_mm, writer=writer)
        in_the_frame(self.pdf, MARGIN_MM + 102, top_mm, writer=writer)
        self.pdf.set_xy(MARGIN_MM, top_mm + DRAWING_MM)
        for section in (guide.SETTING_UP, guide.TAKING):
            self._section(section)
        self.pdf.set_y(self.pdf.get_y() + 2)
        self._write(guide.OTHER_SIDE, BODY_PT * shrink, bold=True)
        self._check()
        self.pdf.add_page()
        for section in (guide.SPOTS, guide.CAUTIONS):
            self._section(section)
        self._notes()

    def _check(self) -> None:
        self.fits = self.fits and self.pdf.get_y() <= self.pdf.h - MARGIN_MM

    def _write(self, words: str, size_pt: float, *, bold: bool = False, after_mm: float = 1.0) -> None:
        self.pdf.set_font("Helvetica", "B" if bold else "", size_pt)
        self.pdf.set_text_color(INK)
        self.pdf.multi_cell(0, size_pt * 0.48, self.tell(words), align="L", new_x="LMARGIN", new_y="NEXT")
        self.pdf.set_y(self.pdf.get_y() + after_mm)

    def _section(self, section: guide.Section) -> None:
        pdf, size_pt, line_mm = self.pdf, BODY_PT * self.shrink, LINE_MM * self.shrink
        pdf.set_y(pdf.get_y() + 2 * self.shrink)
        self._write(section.heading, HEAD_PT * self.shrink, bold=True, after_mm=1.2 * self.shrink)
        for item in section.items:
            top_mm = pdf.get_y()
            pdf.set_draw_color(LINE)
            pdf.set_line_width(0.1)
            pdf.line(MARGIN_MM, top_mm, pdf.w - MARGIN_MM, top_mm)
            pdf.set_xy(MARGIN_MM, top_mm + self.shrink)
            pdf.set_text_color(INK)
            pdf.set_font("Helvetica", "B", size_pt)
            pdf.cell(LEAD_MM, line_mm, self.tell(item.lead))
            pdf.set_font("Helvetica", "", size_pt)
            pdf.multi_cell(0, line_mm, self.tell(item.words), align="L", new_x="LMARGIN", new_y="NEXT")
            pdf.set_y(pdf.get_y() + self.shrink)

    def _notes(self) -> None:
        """Lines to fill in, so that the second visit can repeat the first."""
        self.pdf.set_y(self.pdf.get_y() + 2)
        self._write(guide.FILL_IN, HEAD_PT * self.shrink, bold=True, after_mm=1)
        width_mm = (self.pdf.epw - 8) / 2
        top_mm = self.pdf.get_y()
        for number, label in enumerate(guide.NOTES):
            left_mm = MARGIN_MM + (number % 2) * (width_mm + 8)
            base_mm = top_mm + 7 + (number // 2) * 8
            write_label(self.pdf, left_mm, base_mm - 0.8, self.tell(label))
            self.pdf.line(left_mm + 36, base_mm, left_mm + width_mm, base_mm)
        self.pdf.set_y(base_mm)
        self._check()


def write_guide(path: str | Path, *, style: Style | None = None) -> None:
    """Write the guide as a PDF; see `guide_pdf`."""
    write_file(Path(path), guide_pdf(style=style))
