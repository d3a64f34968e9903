"""The PDF: its words by extraction, its drawing by rendering."""

from __future__ import annotations

import re

import numpy as np
import pypdfium2 as pdfium
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from defectmap.panel.card import Paper
from defectmap.report.claimpages import claims_pdf
from defectmap.report.claims import claim_sheet
from defectmap.report.method import in_short
from defectmap.report.paper import AFTER, BEFORE
from defectmap.report.pdf import report_pdf
from defectmap.words.style import Style
from tests.report import made


def pages(data: bytes) -> list[str]:
    document = pdfium.PdfDocument(data)
    return [" ".join(page.get_textpage().get_text_bounded().split()) for page in document]


def drawn(data: bytes, number: int = 0) -> np.ndarray:
    result: np.ndarray = pdfium.PdfDocument(data)[number].render(scale=2).to_numpy()[..., 2::-1]
    return result


@pytest.fixture(scope="module")
def customer() -> bytes:
    return report_pdf(made.five_panels())


@pytest.fixture(scope="module")
def full() -> bytes:
    return report_pdf(made.five_panels(), audience="full")


def test_first_page_is_enough_for_the_customer(customer: bytes) -> None:
    first = pages(customer)[0]
    assert "Fewer marks show on all 5 panels than before." in first
    assert "Least improved: right rear quarter, reduced by 24 %." in first
    for words in ("bonnet", "reduced by 83 %", "range 78 to 88 %", "What is left, and why", "boot lid"):
        assert words in first


@pytest.mark.parametrize("count", [1, 2, 3, 4, 5, 6])
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_how_to_read_it_is_never_torn_apart(count: int, paper: Paper) -> None:
    sections = [made.section(f"panel {n}", made.less(-80 + n), why="Kept. " * 20) for n in range(count)]
    text = [
        " ".join(page.split()) for page in pages(report_pdf(made.report(*sections, style=Style(paper=paper))))
    ]
    (at,) = [n for n, page in enumerate(text) if "How to read this" in page]
    assert all(sentence in text[at] for sentence in in_short())


def test_full_version_holds_method_limits_and_hashes(full: bytes, customer: bytes) -> None:
    words = " ".join(pages(full))
    for part in ("What the figures do not say", "block bootstrap", "Film thickness", "Photographs", "118 µm"):
        assert part in words
    # a hash of 64 digits is broken over lines in its cell
    assert made.SHA256 in words.replace(" ", "")
    assert "block bootstrap" not in " ".join(pages(customer))


def test_bars_are_as_long_as_the_figures(customer: bytes) -> None:
    picture = drawn(customer).astype(int)
    runs = {
        name: (np.abs(picture - colour).max(axis=2) < 12).sum(axis=1)
        for name, colour in (("before", BEFORE), ("after", AFTER))
    }
    # letters and the smoothed edges of words have a few pixels of these colours in a row, a long bar over a
    # hundred
    long = runs["before"] > 100
    starts = np.flatnonzero(long[1:] & ~long[:-1]) + 1
    lengths = [int(runs["before"][start + 3]) for start in starts]
    assert len(lengths) == 5
    # every panel began at 10 mm/cm²; edges are smoothed over one pixel on either side
    assert max(lengths) - min(lengths) <= 2
    assert runs["after"].max() / lengths[0] == pytest.approx(0.76, abs=0.02)


def test_not_comparable_shows_the_reason_and_no_percentage() -> None:
    report = made.report(made.section("roof", made.not_comparable()))
    words = " ".join(pages(report_pdf(report, audience="full")))
    assert "not comparable" in words
    assert "The lamp is another one; use the same lamp." in words
    assert not re.search(r"\d % (less|more)", words)


def test_pages_have_nothing_outside_their_margins(full: bytes) -> None:
    for number in range(len(pdfium.PdfDocument(full))):
        picture = drawn(full, number)
        # 17 mm at 144 dpi is 96 px; a margin of 10 mm must be white
        edge = 56
        for strip in (picture[:, :edge], picture[:, -edge:], picture[:edge], picture[-edge + 30 :]):
            assert strip.min() > 250


@pytest.mark.parametrize(("paper", "size_pt"), [("A4", (595.3, 841.9)), ("Letter", (612.0, 792.0))])
def test_paper_sizes(paper: Paper, size_pt: tuple[float, float]) -> None:
    # ISO 216 (210 x 297 mm) and ANSI A (8.5 x 11 in) in points of 1/72 in
    document = pdfium.PdfDocument(report_pdf(made.five_panels(style=Style(paper=paper))))
    assert document[0].get_size() == (pytest.approx(size_pt[0], abs=0.1), pytest.approx(size_pt[1], abs=0.1))


def test_same_report_gives_the_same_bytes(customer: bytes) -> None:
    assert report_pdf(made.five_panels()) == customer


def test_sixteen_panels_go_on_over_pages() -> None:
    sections = [made.section(f"panel {n}", made.less(-60 - n), why="Kept.") for n in range(16)]
    words = " ".join(pages(report_pdf(made.report(*sections))))
    assert all(f"panel {n}" in words for n in range(16))


@settings(max_examples=4, deadline=None)
@given(st.text(min_size=1, max_size=80))
def test_any_name_can_be_drawn(name: str) -> None:
    report = made.report(made.section(name, made.less()), reference=name)
    assert len(pages(report_pdf(report, audience="full"))) >= 2
    assert pages(claims_pdf(claim_sheet(report)))


@pytest.mark.parametrize("name", ["Kotflügel µ²", "капот", "κουβούκλιο", "**roof** __x__", "<b>roof</b>"])
def test_names_come_out_as_they_are(name: str) -> None:
    words = " ".join(pages(report_pdf(made.report(made.section(name, made.less())))))
    assert name in words


def test_document_says_no_more_of_itself_than_title_and_day(customer: bytes) -> None:
    facts = pdfium.PdfDocument(customer).get_metadata_dict(skip_empty=True)
    assert facts["Title"] == "Paint before and after, J-1"
    assert set(facts) <= {"Title", "Creator", "Producer", "CreationDate"}
