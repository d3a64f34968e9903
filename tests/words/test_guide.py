"""The printed capture guide: what is on it, on which paper, and that docs/guide.md says the same."""

from __future__ import annotations

import math
import re
from pathlib import Path

import pypdfium2 as pdfium
import pytest
from typer.testing import CliRunner

from defectmap.commands.program import app
from defectmap.comparison.tuning import PANEL_SPOTS
from defectmap.panel.card import Paper
from defectmap.report import guide_drawing as sheet
from defectmap.report.guide_sheet import MARGIN_MM, guide_pdf
from defectmap.trade.stages import BASELINE, PROOF, STAGE_NAMES
from defectmap.words import guide as text
from defectmap.words.style import Style
from defectmap.words.writer import Writer

runner = CliRunner()
SIDES = ((text.SETTING_UP, text.TAKING), (text.SPOTS, text.CAUTIONS))


def spaced(words: str) -> str:
    return " ".join(words.split())


def sides(data: bytes) -> list[str]:
    document = pdfium.PdfDocument(data)
    return [spaced(page.get_textpage().get_text_range()) for page in document]


# ISO 216: A4 is 210 x 297 mm; ANSI/ASME Y14.1: size A, Letter, is 8.5 x 11 inches
@pytest.mark.parametrize(("paper", "size_mm"), [("A4", (210, 297)), ("Letter", (8.5 * 25.4, 11 * 25.4))])
def test_one_sheet_two_sides_of_its_standard_size(paper: Paper, size_mm: tuple[float, float]) -> None:
    document = pdfium.PdfDocument(guide_pdf(style=Style(paper=paper)))
    assert len(document) == 2
    for page in document:
        assert tuple(pt / 72 * 25.4 for pt in page.get_size()) == pytest.approx(size_mm, abs=0.01)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_every_sentence_is_on_its_side(paper: Paper) -> None:
    for side, sections in zip(sides(guide_pdf(style=Style(paper=paper))), SIDES, strict=True):
        for section in sections:
            assert section.heading in side
            for item in section.items:
                assert spaced(f"{item.lead} {item.words}") in side
    front, back = sides(guide_pdf(style=Style(paper=paper)))
    assert text.OTHER_SIDE in front
    assert all(label in back for label in text.NOTES)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_nothing_is_drawn_outside_the_margins(paper: Paper) -> None:
    scale = 2.0
    for page in pdfium.PdfDocument(guide_pdf(style=Style(paper=paper))):
        picture = page.render(scale=scale).to_numpy()[:, :, 0]
        edge = int((MARGIN_MM - 1.5) / 25.4 * 72 * scale)  # the drawing's thick line may stand out a little
        inner = picture[edge:-edge, edge:-edge]
        assert inner.min() < 100
        assert (picture < 250).sum() == (inner < 250).sum()


def test_the_same_guide_is_the_same_file() -> None:
    assert guide_pdf() == guide_pdf()


def test_german_fits_on_the_same_sheet() -> None:
    data = guide_pdf(style=Style(language="de"))
    writer = Writer(Style(language="de"))
    for side, sections in zip(sides(data), SIDES, strict=True):
        for section in sections:
            for item in section.items:
                assert spaced(f"{writer.tell(item.lead)} {writer.tell(item.words)}") in side
    assert "Blendung" in sides(data)[1]
    last = pdfium.PdfDocument(data)[1].render(scale=1).to_numpy()[:, :, 0]
    assert last[-int(13 / 25.4 * 72) :].min() > 200  # nothing below the margin


def test_the_drawn_ray_keeps_the_law_of_reflection() -> None:
    """Angle in equals angle out (law of reflection): heights over the paint part the way between the feet."""
    aside = sheet.LAMP_ASIDE_CM * sheet.PHONE_AT_CM / (sheet.PHONE_AT_CM + sheet.LAMP_AT_CM)
    to_phone = math.atan2(aside, sheet.PHONE_AT_CM)
    to_lamp = math.atan2(sheet.LAMP_ASIDE_CM - aside, sheet.LAMP_AT_CM)
    assert to_phone == pytest.approx(to_lamp, abs=1e-12)  # rounding only


def test_the_guide_speaks_of_the_programs_own_stages_and_limits() -> None:
    words = {item.lead: item.words for item in text.SPOTS.items}
    named = [match for item in words.values() for match in re.findall(r"^Stage ([a-z ]+)[:,]", item)]
    assert named == [BASELINE, "test spot", "corrected", PROOF]
    assert set(named) <= set(STAGE_NAMES)
    assert text.FEWEST_SPOTS == PANEL_SPOTS


@pytest.mark.parametrize("mind", ["lamp", "hot", "burn", "vapours", "gloves", "edges", "labels", "licensed"])
def test_cautions_name_what_can_hurt(mind: str) -> None:
    # trade facts: common practice, no source; lamps by their risk group, IEC 62471
    assert any(mind in item.words for item in text.CAUTIONS.items)
    assert "IEC 62471" in text.CAUTIONS.items[0].words


def test_the_document_says_what_the_sheet_says() -> None:
    document = spaced((Path(__file__).parents[2] / "docs" / "guide.md").read_text(encoding="utf-8"))
    for sentence in text.IN_SHORT:
        assert sentence in document
    for item in text.CAUTIONS.items:
        assert spaced(f"**{item.lead}.** {item.words}") in document


def test_the_command_writes_it(tmp_path: Path) -> None:
    out = tmp_path / "guide.pdf"
    result = runner.invoke(app, ["guide", "--out", str(out), "--paper", "letter"])
    assert result.exit_code == 0
    assert out.read_bytes().startswith(guide_pdf(style=Style(paper="Letter")))  # and who wrote it
    assert "both sides" in result.output
    assert runner.invoke(app, ["guide", "--paper", "a5"]).exit_code == 2


def test_a_place_that_cannot_be_written_is_named(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("not a folder")
    result = runner.invoke(app, ["guide", "--out", str(tmp_path / "file" / "guide.pdf")])
    assert result.exit_code == 2
    assert "cannot be written" in result.stderr
