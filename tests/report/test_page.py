"""The HTML page: complete in itself, escaped, readable by everybody."""

from __future__ import annotations

import base64
import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import defectmap.report
from defectmap.report.claimpages import claims_html
from defectmap.report.claims import claim_sheet
from defectmap.report.page import report_html
from defectmap.words.report_words import plain_words
from tests.report import made

CSS = Path(defectmap.report.__file__).parent / "templates" / "report.css"


class Seen(HTMLParser):
    """Tags with their attributes, and the text between them."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.text.append(data)

    @property
    def words(self) -> str:
        return " ".join(" ".join(self.text).split())


@pytest.fixture(scope="module")
def full() -> str:
    return report_html(made.five_panels(), audience="full")


@pytest.mark.parametrize("which", ["customer", "full", "claims"])
def test_nothing_outside_the_file_is_asked_for(which: Any) -> None:
    report = made.five_panels()
    html = claims_html(claim_sheet(report)) if which == "claims" else report_html(report, audience=which)
    tags = Seen(html).tags
    policy = [a["content"] for t, a in tags if a.get("http-equiv") == "Content-Security-Policy"]
    assert policy == ["default-src 'none'; img-src data:; style-src 'unsafe-inline'"]
    for tag, attributes in tags:
        assert tag not in {"script", "link", "iframe", "object", "embed", "base", "form", "a"}
        assert not any(name.startswith("on") or name in {"href", "srcset", "action"} for name in attributes)
        if "src" in attributes:
            assert str(attributes["src"]).startswith("data:image/jpeg;base64,")
    assert "url(" not in html
    assert "@import" not in html
    assert "//" not in re.sub(r"base64,[A-Za-z0-9+/=]+", "", html)


@settings(max_examples=40, deadline=None)
@given(st.text(min_size=1), st.text(min_size=1))
def test_names_are_escaped_everywhere(panel: str, shop: str) -> None:
    def drawn(name: str, customer: str) -> Seen:
        found = made.section(name, made.not_comparable(reason=f"{customer} and {name}"), why=name)
        report = made.report(found, shop=plain_words(customer), customer=customer, reference=name)
        return Seen(report_html(report, audience="full") + claims_html(claim_sheet(report)))

    seen, usual = drawn(panel, shop), drawn("roof", "shop")
    assert [tag for tag, _ in seen.tags if tag != "p"] == [tag for tag, _ in usual.tags if tag != "p"]
    assert plain_words(panel) in seen.words


@pytest.mark.parametrize(
    "name", ["<script>alert(1)</script>", '"><img src=x onerror=y>', "{{ 7 * 7 }}", "a & b"]
)
def test_harmful_names_are_shown_as_they_are(name: str) -> None:
    html = report_html(made.report(made.section(name, made.less())), audience="full")
    assert name not in html or "<" not in name
    seen = Seen(html)
    assert name in seen.words
    assert not any("onerror" in attributes for _, attributes in seen.tags)
    assert name in [str(a["alt"]).removeprefix("Before: ") for t, a in seen.tags if t == "img"]


def test_first_screen_says_what_changed_and_what_is_least(full: str) -> None:
    words = Seen(report_html(made.five_panels())).words
    assert "Fewer marks show on all 5 panels than before." in words
    assert "Least improved: right rear quarter, reduced by 24 %." in words
    for name in ("bonnet", "roof", "left front door", "right rear quarter", "boot lid"):
        assert name in words


def test_customer_is_spared_what_the_sceptic_gets(full: str) -> None:
    customer = Seen(report_html(made.five_panels())).words
    for words in ("SHA-256", "block bootstrap", "What the figures do not say", "stereology"):
        assert words in Seen(full).words
        assert words not in customer
    assert made.SHA256 in full
    assert "defectmap 0." in full


def test_not_comparable_shows_the_reason_and_no_bar() -> None:
    html = report_html(made.report(made.section("roof", made.not_comparable())), audience="full")
    words = Seen(html).words
    assert "The lamp is another one; use the same lamp." in words
    assert "reduced by" not in words
    assert "<rect" not in html


def test_pictures_have_words_and_no_metadata(full: str) -> None:
    from io import BytesIO

    from PIL import Image

    pictures = [attributes for tag, attributes in Seen(full).tags if tag == "img"]
    assert len(pictures) == 10
    for attributes in pictures:
        assert attributes["alt"]
        picture = Image.open(BytesIO(base64.b64decode(str(attributes["src"]).partition(",")[2])))
        assert not picture.getexif()
        assert set(picture.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.2."""
    codes = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in codes]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("theme", [0, 1, 2])
def test_text_and_bars_stand_out_in_every_theme(theme: int) -> None:
    """WCAG 2.2, success criteria 1.4.3 (text, 4.5 : 1) and 1.4.11 (graphics, 3 : 1): light, dark, print."""
    blocks = re.findall(r":root \{([^}]*)\}", CSS.read_text(encoding="utf-8"))
    colours = dict(re.findall(r"--([a-z]+):\s*(#[0-9a-f]{6})", blocks[theme]))
    paper = luminance(colours["paper"])

    def ratio(name: str) -> float:
        high, low = sorted((luminance(colours[name]), paper), reverse=True)
        return (high + 0.05) / (low + 0.05)

    assert len(blocks) == 3
    for name in ("ink", "quiet", "better", "worse", "open"):
        assert ratio(name) >= 4.5, name
    for name in ("before", "after"):
        assert ratio(name) >= 3.0, name


def test_outcome_is_told_without_colour() -> None:
    html = report_html(made.five_panels())
    assert html.count("▼") == 5


def test_score_is_explained_as_it_is_computed(full: str) -> None:
    """The sentence is recomputed by hand: 100 / (1 + 6/12 + 3/12 + 1.5/3 + 30/60 + 0.25/1)."""
    from defectmap.panel.finish import finish_score
    from defectmap.panel.measurement import Density

    words = Seen(full).words
    formula = re.search(r"finish score is 100 / \(([^)]*)\)", words)
    assert formula is not None
    given = {
        "swirl marks": 6.0,
        "buffer trails": 3.0,
        "scratches": 1.5,
        "longest scratch": 30.0,
        "water spots": 0.25,
    }
    parts = re.findall(r"([a-z ]+?) / ([0-9.]+)", formula[1])
    assert {name.strip() for name, _ in parts} == set(given)
    by_hand = 100 / (1 + sum(given[name.strip()] / float(half) for name, half in parts))
    density = Density(swirl=6.0, trail=3.0, scratch=1.5)
    computed = finish_score(density, longest_scratch_mm=30.0, haze=0.0, spots_per_cm2=0.25)
    assert by_hand == pytest.approx(computed)
