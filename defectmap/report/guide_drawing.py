"""The two drawings of the capture guide, in vectors: the set-up from the side, and what the screen shows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from defectmap.words import guide
from defectmap.words.guide import LAMP_CM, PHONE_CM
from defectmap.words.writer import Writer

if TYPE_CHECKING:
    from fpdf import FPDF

LABEL_PT = 8.0
INK, QUIET = 20, 90  # grey codes
MM_PER_CM = 0.62  # of the drawing seen from the side
LAMP_ASIDE_CM = 15.0
LAMP_AT_CM, PHONE_AT_CM = sum(LAMP_CM) / 2, sum(PHONE_CM) / 2


def write_label(pdf: FPDF, x_mm: float, baseline_mm: float, words: str) -> None:
    """Small grey words from a baseline."""
    pdf.set_font("Helvetica", "", LABEL_PT)
    pdf.set_text_color(QUIET)
    pdf.text(x_mm, baseline_mm, words)


def from_the_side(pdf: FPDF, left_mm: float, top_mm: float, *, writer: Writer) -> None:
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
    write_label(pdf, foot_mm - 33, phone[1] + 13, writer.tell(guide.SPAN, low=PHONE_CM[0], high=PHONE_CM[1]))
    write_label(pdf, foot_mm - 33, phone[1] - 0.2, writer.tell(guide.SQUARE[0]))
    write_label(pdf, foot_mm - 33, phone[1] + 3, writer.tell(guide.SQUARE[1]))
    write_label(pdf, lamp[0] + 4, lamp[1] - 2.5, writer.tell(guide.BESIDE))
    write_label(pdf, lamp[0] + 7, lamp[1] + 20, writer.tell(guide.SPAN, low=LAMP_CM[0], high=LAMP_CM[1]))
    write_label(pdf, foot_mm - 24, paint_mm + 4, writer.tell(guide.CARD))
    write_label(pdf, mirror[0] - 4, paint_mm + 4, writer.tell(guide.REFLECTION))


def _height(pdf: FPDF, x_mm: float, upper_mm: float, lower_mm: float) -> None:
    """A dimension line with a stroke at either end."""
    pdf.set_draw_color(QUIET)
    pdf.set_line_width(0.15)
    pdf.line(x_mm, upper_mm, x_mm, lower_mm)
    for y_mm in (upper_mm, lower_mm):
        pdf.line(x_mm - 1.2, y_mm, x_mm + 1.2, y_mm)
    pdf.set_draw_color(INK)


def in_the_frame(pdf: FPDF, left_mm: float, top_mm: float, *, writer: Writer) -> None:
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
    write_label(pdf, left_mm, top_mm + 2.5, writer.tell(guide.ON_SCREEN))
    write_label(pdf, left_mm, top_mm + 56.2, writer.tell(guide.BELOW))
