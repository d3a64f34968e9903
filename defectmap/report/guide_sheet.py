"""The capture guide as a PDF: one sheet, two sides, drawn in vectors."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from defectmap.outputs import write_file
from defectmap.panel.card import Paper, blank_sheet
from defectmap.words.guide import (
    CAUTIONS,
    LAMP_CM,
    NOTES,
    OTHER_SIDE,
    PHONE_CM,
    SETTING_UP,
    SPOTS,
    TAKING,
    TITLE,
    Section,
)

if TYPE_CHECKING:
    from fpdf import FPDF

MARGIN_MM = 15.0
LEAD_MM = 26.0  # column of the words that items are found by
BODY_PT, HEAD_PT, TITLE_PT, LABEL_PT = 10.5, 12.0, 16.0, 8.0
LINE_MM = 4.9
INK, QUIET, LINE = 20, 90, 190  # grey codes
MM_PER_CM = 0.62  # of the drawing seen from the side
LAMP_ASIDE_CM = 15.0
LAMP_AT_CM, PHONE_AT_CM = sum(LAMP_CM) / 2, sum(PHONE_CM) / 2
DRAWING_MM = 58.0


def guide_pdf(*, paper: Paper = "A4") -> bytes:
    """Draw the guide.

    Parameters
    ----------
    paper : "A4" or "Letter"
        Sheet of the printer.

    Returns
    -------
    bytes
        A PDF of two pages; the same guide is the same file.

    Raises
    ------
    ValueError
        Another sheet.
    """
    pdf = blank_sheet(paper, title=TITLE)  # no page breaks: what does not fit shows in the test
    pdf.set_lang("en")
    pdf.set_margin(MARGIN_MM)
    pdf.c_margin = 0.0
    pdf.add_page()
    _write(pdf, TITLE, TITLE_PT, bold=True, after_mm=3)
    top_mm = pdf.get_y()
    _from_the_side(pdf, MARGIN_MM, top_mm)
    _in_the_frame(pdf, MARGIN_MM + 102, top_mm)
    pdf.set_xy(MARGIN_MM, top_mm + DRAWING_MM)
    for section in (SETTING_UP, TAKING):
        _section(pdf, section)
    pdf.set_y(pdf.get_y() + 2)
    _write(pdf, OTHER_SIDE, BODY_PT, bold=True)
    pdf.add_page()
    for section in (SPOTS, CAUTIONS):
        _section(pdf, section)
    _notes(pdf)
    return bytes(pdf.output())


def write_guide(path: str | Path, *, paper: Paper = "A4") -> None:
    """Write the guide as a PDF; see `guide_pdf`."""
    write_file(Path(path), guide_pdf(paper=paper))


def _write(pdf: FPDF, words: str, size_pt: float, *, bold: bool = False, after_mm: float = 1.0) -> None:
    pdf.set_font("Helvetica", "B" if bold else "", size_pt)
    pdf.set_text_color(INK)
    pdf.multi_cell(0, size_pt * 0.48, words, align="L", new_x="LMARGIN", new_y="NEXT")
    pdf.set_y(pdf.get_y() + after_mm)


def _section(pdf: FPDF, section: Section) -> None:
    pdf.set_y(pdf.get_y() + 2)
    _write(pdf, section.heading, HEAD_PT, bold=True, after_mm=1.2)
    for item in section.items:
        top_mm = pdf.get_y()
        pdf.set_draw_color(LINE)
        pdf.set_line_width(0.1)
        pdf.line(MARGIN_MM, top_mm, pdf.w - MARGIN_MM, top_mm)
        pdf.set_xy(MARGIN_MM, top_mm + 1)
        pdf.set_text_color(INK)
        pdf.set_font("Helvetica", "B", BODY_PT)
        pdf.cell(LEAD_MM, LINE_MM, item.lead)
        pdf.set_font("Helvetica", "", BODY_PT)
        pdf.multi_cell(0, LINE_MM, item.words, align="L", new_x="LMARGIN", new_y="NEXT")
        pdf.set_y(pdf.get_y() + 1)


def _notes(pdf: FPDF) -> None:
    """Lines to fill in, so that the second visit can repeat the first."""
    pdf.set_y(pdf.get_y() + 2)
    _write(pdf, "Write down, for the next time", HEAD_PT, bold=True, after_mm=1)
    width_mm = (pdf.epw - 8) / 2
    top_mm = pdf.get_y()
    for number, label in enumerate(NOTES):
        left_mm = MARGIN_MM + (number % 2) * (width_mm + 8)
        base_mm = top_mm + 7 + (number // 2) * 8
        _label(pdf, left_mm, base_mm - 0.8, label)
        pdf.line(left_mm + 36, base_mm, left_mm + width_mm, base_mm)


def _label(pdf: FPDF, x_mm: float, baseline_mm: float, words: str, *, size_pt: float = LABEL_PT) -> None:
    pdf.set_font("Helvetica", "", size_pt)
    pdf.set_text_color(QUIET)
    pdf.text(x_mm, baseline_mm, words)


def _from_the_side(pdf: FPDF, left_mm: float, top_mm: float) -> None:
    """Panel, phone and lamp from the side, to one scale; the ray keeps the law of reflection."""
    paint_mm = top_mm + 50
    foot_mm = left_mm + 40  # straight below the phone
    # the reflection lies between phone and lamp, parted as their heights over the paint
    aside_cm = LAMP_ASIDE_CM * PHONE_AT_CM / (PHONE_AT_CM + LAMP_AT_CM)
    mirror = (foot_mm + aside_cm * MM_PER_CM, paint_mm)
    lamp = (foot_mm + LAMP_ASIDE_CM * MM_PER_CM, paint_mm - LAMP_AT_CM * MM_PER_CM)
    phone = (foot_mm, paint_mm - PHONE_AT_CM * MM_PER_CM)
    pdf.set_draw_color(INK)
    pdf.set_fill_color(INK)
    pdf.set_line_width(0.2)
    pdf.line(*lamp, *mirror)
    pdf.line(*mirror, *phone)
    pdf.set_line_width(0.8)
    pdf.line(left_mm, paint_mm, left_mm + 84, paint_mm)
    pdf.rect(phone[0] - 4.6, phone[1] - 1, 9.2, 1.2, style="F")
    pdf.circle(lamp[0], lamp[1], 1.8, style="F")
    pdf.ellipse(mirror[0] - 1.5, paint_mm - 0.9, 3, 1.8, style="D")
    pdf.rect(foot_mm - 24, paint_mm - 1, 11, 0.6, style="F")
    _height(pdf, foot_mm - 9, phone[1], paint_mm)
    _height(pdf, lamp[0] + 5, lamp[1], paint_mm)
    _label(pdf, foot_mm - 33, phone[1] + 13, f"{PHONE_CM[0]} to {PHONE_CM[1]} cm")
    _label(pdf, foot_mm - 33, phone[1] - 0.2, "phone, square to")
    _label(pdf, foot_mm - 33, phone[1] + 3, "the paint")
    _label(pdf, lamp[0] + 4, lamp[1] - 2.5, "one lamp, close beside the phone")
    _label(pdf, lamp[0] + 7, lamp[1] + 20, f"{LAMP_CM[0]} to {LAMP_CM[1]} cm")
    _label(pdf, foot_mm - 24, paint_mm + 4, "card")
    _label(pdf, mirror[0] - 4, paint_mm + 4, "reflection: look at it on the screen only")


def _height(pdf: FPDF, x_mm: float, upper_mm: float, lower_mm: float) -> None:
    """A dimension line with a stroke at either end."""
    pdf.set_draw_color(QUIET)
    pdf.set_line_width(0.15)
    pdf.line(x_mm, upper_mm, x_mm, lower_mm)
    for y_mm in (upper_mm, lower_mm):
        pdf.line(x_mm - 1.2, y_mm, x_mm + 1.2, y_mm)
    pdf.set_draw_color(INK)


def _in_the_frame(pdf: FPDF, left_mm: float, top_mm: float) -> None:
    """What the screen should show: the disc near the middle, marks about it, the card aside."""
    wide_mm, high_mm = 68.0, 48.0
    middle = (left_mm + wide_mm / 2, top_mm + 4 + high_mm / 2)
    pdf.set_draw_color(INK)
    pdf.set_fill_color(70)
    pdf.set_line_width(0.4)
    pdf.rect(left_mm, top_mm + 4, wide_mm, high_mm, style="DF")
    pdf.set_draw_color(225)
    pdf.set_line_width(0.2)
    for number in range(26):  # short arcs round the disc, as marks show
        radius_mm = 7.0 + 0.45 * number
        start_deg = (number * 137.5) % 360  # the golden angle spreads them without a pattern
        pdf.arc(
            middle[0] - radius_mm,
            middle[1] - radius_mm,
            2 * radius_mm,
            start_deg,
            start_deg + 22,
            b=2 * radius_mm,
        )
    pdf.set_fill_color(255)
    pdf.circle(*middle, 4, style="F")
    pdf.rect(left_mm + 2, top_mm + 44.5, 20, 5.8, style="F")
    pdf.set_fill_color(0)
    for place in range(5):
        pdf.rect(left_mm + 2.8 + place * 4, top_mm + 45.3, 2.6, 2.6, style="F")
    _label(pdf, left_mm, top_mm + 2.5, "On the screen: one small disc, just white, paint all round it")
    _label(pdf, left_mm, top_mm + 56.2, "Marks run round it; the card lies beside them, in sharp focus.")
