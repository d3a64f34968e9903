"""The printed scale card: its geometry in millimetres, and the PDF that prints it.

A strip with five square markers (OpenCV's ArUco dictionary 5X5_50, numbers 40 to 44), four grey patches
between them and a ruler below. Small enough to lie beside the place that is measured, long enough to tell the
camera's tilt. Millimetres are counted from the card's upper left corner, x right, y down.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from defectmap.outputs import write_file
from defectmap.words.card_words import INSTRUCTIONS, PURPOSE, WARNING_ON_CARD

if TYPE_CHECKING:
    from fpdf import FPDF

Paper = Literal["A4", "Letter"]

# ISO 216 for A4; ANSI/ASME Y14.1 size A (8.5 x 11 inches of 25.4 mm) for Letter
PAPER_MM: dict[str, tuple[float, float]] = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}

DICTIONARY = "DICT_5X5_50"
MARKER_IDS = (40, 41, 42, 43, 44)
MARKER_CELLS = 7  # five cells of code and a black border of one
MARKER_MM = 14.0  # so that one cell is exactly 2 mm
PITCH_MM = 22.0
CARD_MM = (110.0, 31.0)  # width, height
MARGIN_MM = 4.0  # to the first marker, from the left and from above
RULER_MM = 100.0
RULER_TOP_MM = 19.5
GREY_CODES = (40, 90, 140, 190)  # sRGB codes of the patches; printers differ, so they compare, not calibrate


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A filled rectangle of the card, in mm from its upper left corner; `grey` is an sRGB code."""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    grey: int = 0


def marker_corners_mm() -> dict[int, NDArray[np.float64]]:
    """Outer corners of each marker's black square.

    Returns
    -------
    dict of int to (4, 2) float64 ndarray
        By marker number: x, y in mm; upper left, upper right, lower right, lower left, as OpenCV orders them.
    """
    square = np.array([(0.0, 0.0), (MARKER_MM, 0.0), (MARKER_MM, MARKER_MM), (0.0, MARKER_MM)])
    return {
        number: square + np.array((MARGIN_MM + place * PITCH_MM, MARGIN_MM))
        for place, number in enumerate(MARKER_IDS)
    }


def outline_mm(margin_mm: float = 0.0) -> NDArray[np.float64]:
    """Corners of the card, moved outwards by a margin: (4, 2) x, y in mm."""
    width, height = CARD_MM
    low, right, bottom = -margin_mm, width + margin_mm, height + margin_mm
    return np.array([(low, low), (right, low), (right, bottom), (low, bottom)])


def boxes() -> Iterator[Box]:
    """Everything that is filled on the card: marker cells, grey patches, ticks of the ruler."""
    for number, corners in marker_corners_mm().items():
        yield from _marker_boxes(number, x_mm=float(corners[0, 0]), y_mm=float(corners[0, 1]))
    gap_mm = PITCH_MM - MARKER_MM
    for place, code in enumerate(GREY_CODES):
        x_mm = MARGIN_MM + MARKER_MM + place * PITCH_MM + gap_mm / 4
        yield Box(x_mm=x_mm, y_mm=MARGIN_MM, width_mm=gap_mm / 2, height_mm=MARKER_MM, grey=code)
    yield from ruler_boxes(x_mm=(CARD_MM[0] - RULER_MM) / 2, y_mm=RULER_TOP_MM)


def ruler_boxes(*, x_mm: float, y_mm: float) -> Iterator[Box]:
    """Ticks of a level ruler of 100 mm: each tick's middle stands at its millimetre."""
    tick_mm = 0.15
    for millimetre in range(int(RULER_MM) + 1):
        height_mm = 4.0 if millimetre % 10 == 0 else 3.0 if millimetre % 5 == 0 else 2.0
        yield Box(x_mm=x_mm + millimetre - tick_mm / 2, y_mm=y_mm, width_mm=tick_mm, height_mm=height_mm)


def _marker_boxes(number: int, *, x_mm: float, y_mm: float) -> Iterator[Box]:
    """Runs of black cells, row by row, so that no hairline shows between neighbours in a row."""
    import cv2

    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, DICTIONARY))
    cells = cv2.aruco.generateImageMarker(dictionary, number, MARKER_CELLS, borderBits=1)
    cell_mm = MARKER_MM / MARKER_CELLS
    for row, line in enumerate(cells == 0):
        edges = np.flatnonzero(np.diff(np.concatenate(([0], line.astype(np.int8), [0]))))
        for start, end in edges.reshape(-1, 2).tolist():
            yield Box(
                x_mm=x_mm + start * cell_mm,
                y_mm=y_mm + row * cell_mm,
                width_mm=(end - start) * cell_mm,
                height_mm=cell_mm,
            )


def write_card(path: str | Path, *, paper: Paper = "A4") -> None:
    """Write the card as a PDF; see `card_pdf`."""
    write_file(Path(path), card_pdf(paper=paper))


def card_pdf(*, paper: Paper = "A4") -> bytes:
    """Draw the card as a PDF of one page, in vectors.

    Parameters
    ----------
    paper : "A4" or "Letter"
        Sheet of the printer.

    Returns
    -------
    bytes
        The same card is the same file.

    Raises
    ------
    ValueError
        Another sheet.
    """
    from fpdf.prefs import ViewerPreferences

    pdf = blank_sheet(paper, title="Scale card")
    pdf.viewer_preferences = ViewerPreferences(print_scaling="None")  # asks the viewer not to fit the page
    pdf.set_margin(0)
    pdf.add_page()
    left_mm, top_mm = card_corner_mm(paper)
    _text(pdf, left_mm, top_mm - 16, "Scale card", size_pt=16)
    _text(pdf, left_mm, top_mm - 9, PURPOSE, size_pt=9)
    _draw_card(pdf, left_mm, top_mm)
    below_mm = top_mm + CARD_MM[1] + 14
    _draw_upright_ruler(pdf, left_mm - 22, below_mm)
    for line, sentence in enumerate(INSTRUCTIONS):
        _text(pdf, left_mm - 4, below_mm + 3 + line * 7, sentence, size_pt=8)
    return bytes(pdf.output())


def blank_sheet(paper: Paper, *, title: str) -> FPDF:
    """A document without pages, in mm, that comes out the same byte for byte each time it is made."""
    if paper not in PAPER_MM:
        raise ValueError(f"paper must be one of {', '.join(PAPER_MM)}, got {paper!r}")
    from datetime import UTC, datetime

    from fpdf import FPDF

    pdf = FPDF(unit="mm", format=PAPER_MM[paper])
    pdf.set_creation_date(datetime(2026, 1, 1, tzinfo=UTC))
    pdf.set_title(title)
    pdf.set_auto_page_break(False)
    return pdf


def card_corner_mm(paper: Paper) -> tuple[float, float]:
    """Where the card's upper left corner lies on the sheet, x, y in mm from the sheet's own."""
    return float(round((PAPER_MM[paper][0] - CARD_MM[0]) / 2)), 40.0


def _draw_card(pdf: FPDF, left_mm: float, top_mm: float) -> None:
    pdf.set_draw_color(150)
    pdf.set_line_width(0.1)
    pdf.rect(left_mm, top_mm, *CARD_MM)
    _fill(pdf, boxes(), left_mm, top_mm)
    ruler_left_mm = left_mm + (CARD_MM[0] - RULER_MM) / 2
    for millimetre in range(0, int(RULER_MM) + 1, 10):
        _text(pdf, ruler_left_mm + millimetre - 1, top_mm + RULER_TOP_MM + 6.2, str(millimetre), size_pt=5)
    _text(pdf, left_mm + MARGIN_MM, top_mm + CARD_MM[1] - 2, WARNING_ON_CARD, size_pt=6.5)


def _draw_upright_ruler(pdf: FPDF, left_mm: float, top_mm: float) -> None:
    upright = (
        Box(x_mm=tick.y_mm, y_mm=tick.x_mm, width_mm=tick.height_mm, height_mm=tick.width_mm)
        for tick in ruler_boxes(x_mm=0, y_mm=0)
    )
    _fill(pdf, upright, left_mm, top_mm)
    for millimetre in range(0, int(RULER_MM) + 1, 10):
        _text(pdf, left_mm + 5, top_mm + millimetre + 0.6, str(millimetre), size_pt=5)


def _fill(pdf: FPDF, filled: Iterable[Box], left_mm: float, top_mm: float) -> None:
    for box in filled:
        pdf.set_fill_color(box.grey)
        pdf.rect(left_mm + box.x_mm, top_mm + box.y_mm, box.width_mm, box.height_mm, style="F")


def _text(pdf: FPDF, x_mm: float, baseline_mm: float, words: str, *, size_pt: float) -> None:
    pdf.set_font("Helvetica", size=size_pt)
    pdf.text(x_mm, baseline_mm, words)
