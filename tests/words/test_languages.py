"""Languages: every sentence of the report and the guide has a translation that takes the same values."""

from __future__ import annotations

import importlib.util
import re
import string
from pathlib import Path

import pytest

from defectmap.report.claimpages import claims_html
from defectmap.report.claims import claim_sheet
from defectmap.report.content import Audience
from defectmap.report.page import report_html
from defectmap.report.pdf import report_pdf
from defectmap.report.posting import posting_picture
from defectmap.words.style import Style
from defectmap.words.translations import SOURCE, languages, translations
from defectmap.words.writer import Writer
from tests.report import made

spec = importlib.util.spec_from_file_location(
    "languages", Path(__file__).parents[2] / "docs" / "languages.py"
)
assert spec is not None
assert spec.loader is not None
tool = importlib.util.module_from_spec(spec)
spec.loader.exec_module(tool)
OTHERS = [code for code in languages() if code != SOURCE]


def fields(message: str) -> set[tuple[str, str]]:
    """Values of a sentence, each with the unit that it is written in."""
    parsed = [(name, spec or "") for _, name, spec, _ in string.Formatter().parse(message) if name]
    units = ("film", "length", "density")
    return {(name, next((unit for unit in units if unit in spec), "")) for name, spec in parsed}


def test_there_is_a_second_language() -> None:
    assert "de" in OTHERS


@pytest.mark.parametrize("language", OTHERS)
def test_every_sentence_is_translated(language: str) -> None:
    missing = tool.untranslated(tool.up_to_date(language))
    assert missing == [], "run `python docs/languages.py` and translate what it lists"


@pytest.mark.parametrize("language", OTHERS)
def test_translations_take_the_same_values(language: str) -> None:
    for message in tool.up_to_date(language):
        if message.id:
            ids, strings = (
                (message.id, message.string)
                if isinstance(message.id, tuple | list)
                else ((message.id,), (message.string,))
            )
            for one in strings:
                assert fields(one) == fields(ids[0]), message.id


@pytest.mark.parametrize("audience", ["customer", "full"])
def test_a_german_report_holds_no_english(audience: Audience) -> None:
    report = made.five_panels(style=Style(language="de"))
    pages = (report_html(report, audience=audience), claims_html(claim_sheet(report)))
    words = re.sub(r"<[^>]+>", " ", " ".join(html.split("</style>")[-1] for html in pages))
    for own in (  # given to the made-up report as finished words
        "Paint before and after",
        "Same piece of panel.",
        "12 % brighter than the paint beside it, over 1 mm",
    ):
        words = words.replace(own, "")
    assert "An allen 5 Bauteilen sind weniger Spuren zu sehen als vorher." in words
    english = re.findall(r"\b(?:the|and|with|marks|panels?|before|after|than|range)\b", words)
    assert english == []


def test_every_paper_is_drawn_in_german() -> None:
    report = made.five_panels(style=Style(language="de", paper="Letter", length="inch", dates="day first"))
    assert report_pdf(report, audience="full").startswith(b"%PDF")
    assert posting_picture(report).startswith(b"\xff\xd8")
    assert report.made_on_text == "13.05.2026"


def test_an_unknown_language_stays_english() -> None:
    assert Writer(Style(language="xx")).tell("Swirl marks") == "Swirl marks"
    assert translations("../de").gettext("Swirl marks") == "Swirl marks"
