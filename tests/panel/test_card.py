from __future__ import annotations

from pathlib import Path
from typing import cast

import cv2
import numpy as np
import pypdfium2
import pytest
from numpy.typing import NDArray

from defectmap.panel import card
from defectmap.panel.card import Paper
from defectmap.panel.cardfinder import find_card
from defectmap.panel.photo.colour import linear_table
from defectmap.words.card_words import INSTRUCTIONS

DPI = 635  # 25 px per mm: the program that draws the page moves edges to whole pixels
PX_PER_MM = DPI / 25.4


def page(tmp_path: Path, paper: Paper) -> tuple[NDArray[np.float64], NDArray[np.uint8]]:
    """The PDF as an independent program draws it: the sheet's size in mm, and its picture."""
    path = tmp_path / "card.pdf"
    card.write_card(path, paper=paper)
    document = pypdfium2.PdfDocument(path)
    assert len(document) == 1
    size_mm = np.array(document[0].get_size()) / 72 * 25.4
    picture = document[0].render(scale=DPI / 72, rev_byteorder=True).to_numpy()[:, :, :3].copy()
    document.close()
    return size_mm, picture


# ISO 216: A4 is 210 x 297 mm; ANSI/ASME Y14.1: size A, Letter, is 8.5 x 11 inches
@pytest.mark.parametrize(("paper", "size_mm"), [("A4", (210, 297)), ("Letter", (8.5 * 25.4, 11 * 25.4))])
def test_sheet_has_its_standard_size(tmp_path: Path, paper: Paper, size_mm: tuple[float, float]) -> None:
    assert page(tmp_path, paper)[0] == pytest.approx(size_mm, abs=0.01)  # a PDF rounds to 0.01 points


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_printed_card_is_found_at_its_true_scale(tmp_path: Path, paper: Paper) -> None:
    picture = page(tmp_path, paper)[1]
    light = linear_table(255)[picture[:, :, 1]]
    pose = find_card(picture, light)
    assert pose is not None
    assert pose.markers == 5
    # 0.3 %: that program fills every pixel that an edge touches, so a marker may be 1 of 350 px too high
    assert pose.px_per_mm == pytest.approx(PX_PER_MM, rel=0.003)
    assert pose.tilt_deg < 1
    left, top = card.card_corner_mm(paper)
    upper_left = pose.outline[0][::-1] / PX_PER_MM + 3  # the margin that is masked around the card
    assert upper_left == pytest.approx((left, top), abs=0.1)


def test_pdf_shows_the_geometry_that_is_looked_for(tmp_path: Path) -> None:
    picture = page(tmp_path, "A4")[1][:, :, 0]
    left, top = card.card_corner_mm("A4")
    for box in card.boxes():
        if min(box.width_mm, box.height_mm) < 1:  # ticks: asked for below
            continue
        middle = (left + box.x_mm + box.width_mm / 2, top + box.y_mm + box.height_mm / 2)
        column, row = (round(mm * PX_PER_MM) for mm in middle)
        assert picture[row, column] == pytest.approx(box.grey, abs=1)


def test_rulers_are_100_mm_long(tmp_path: Path) -> None:
    picture = page(tmp_path, "A4")[1][:, :, 0]
    left, top = card.card_corner_mm("A4")
    row = round((top + card.RULER_TOP_MM + 1) * PX_PER_MM)
    line = picture[row, round((left + 1) * PX_PER_MM) : round((left + 109) * PX_PER_MM)]
    column = round((left - 22 + 1) * PX_PER_MM)
    for profile in (line, picture[round((top + 32) * PX_PER_MM) :, column]):
        edges = np.flatnonzero(np.diff((profile < 128).astype(int)))
        ticks = edges.reshape(-1, 2).mean(axis=1) / PX_PER_MM
        assert len(ticks) == 101
        assert ticks[-1] - ticks[0] == pytest.approx(100, abs=0.05)  # one pixel of that picture is 0.04 mm
        assert np.diff(ticks) == pytest.approx(1, abs=0.05)


def test_markers_are_those_of_the_dictionary() -> None:
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_50)
    picture = np.full((310, 1100), 255, np.uint8)
    for box in card.boxes():
        edges = np.array([box.x_mm, box.y_mm, box.x_mm + box.width_mm, box.y_mm + box.height_mm])
        left, top, right, bottom = np.rint(edges * 10).astype(int)
        picture[top:bottom, left:right] = box.grey
    corners, numbers, _ = cv2.aruco.ArucoDetector(dictionary).detectMarkers(picture)
    assert sorted(numbers.ravel().tolist()) == [40, 41, 42, 43, 44]
    for number, found in zip(map(int, numbers.ravel()), corners, strict=True):
        # 1 px of 0.1 mm: the detector names pixels, the geometry their outer edge
        assert np.abs(found.reshape(4, 2) - card.marker_corners_mm()[number] * 10).max() <= 1


def test_everything_lies_on_the_card_and_apart() -> None:
    width, height = card.CARD_MM
    for box in card.boxes():
        assert 0 <= box.x_mm <= box.x_mm + box.width_mm <= width
        assert 0 <= box.y_mm <= box.y_mm + box.height_mm <= height
    # the detector needs a white frame of one cell around each marker
    cell = card.MARKER_MM / card.MARKER_CELLS
    patches = [box for box in card.boxes() if box.grey]
    assert len(patches) == len(card.GREY_CODES)
    for corners in card.marker_corners_mm().values():
        for patch in patches:
            gap = max(patch.x_mm - corners[1, 0], corners[0, 0] - (patch.x_mm + patch.width_mm))
            assert gap >= cell - 1e-9


def test_sheet_says_how_to_print_check_and_lay_it() -> None:
    words = " ".join(INSTRUCTIONS)
    for part in ("100 %", "100 mm", "Never slide", "Lay it flat", "tape its edge", "Caution"):
        assert part in words


def test_the_same_card_is_the_same_file(tmp_path: Path) -> None:
    for name in ("one.pdf", "two.pdf"):
        card.write_card(tmp_path / name)
    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()


def test_unknown_paper_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="paper must be one of A4, Letter, got 'A3'"):
        card.write_card(tmp_path / "card.pdf", paper=cast("Paper", "A3"))
