"""From taking a car in to the report, in a real browser that may ask nothing of anybody outside."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import pypdfium2 as pdfium
import pytest
from PIL import Image

from defectmap.pages.frame import PAGES
from defectmap.report.content import Audience
from defectmap.report.page import report_html
from tests.pages.browsing import DESK, PHONE, Visit
from tests.pages.conftest import JOB, Shots
from tests.report import made

pytestmark = pytest.mark.slow
HEIC = Path(__file__).parent.parent / "data" / "lamp.heic"


def twelve_megapixels(file: Path) -> bytes:
    """A picture as large as a phone's camera makes it, which goes through the page's own connection."""
    out = io.BytesIO()
    with Image.open(file) as picture:
        picture.resize((4032, 3024)).save(out, format="JPEG", quality=97)
    return out.getvalue()


def given(visit: Visit, file: dict[str, Any] | str) -> None:
    """Give one file on the photographs' page, and wait until it is kept."""
    visit.page.locator("input[type=file]").first.set_input_files(file)
    visit.page.get_by_text("Kept 1 photograph").wait_for()
    visit.settle()


def test_from_the_car_to_the_report(server: str, browser: Any, shots: Shots, tmp_path: Path) -> None:
    visit = Visit(browser, server)
    page = visit.page
    visit.go("")
    page.get_by_role("textbox", name="Reference of the job").fill("E-1")
    for name in ("bonnet", "roof"):
        page.locator(f'[data-panel][aria-label="{name}"]').click()
    visit.settle()
    visit.press("Start the job")
    page.get_by_role("heading", name="Car and panels").wait_for()
    for number, (stage, file) in enumerate(
        (("Decontaminated (before)", shots.before), ("Wiped (after)", shots.after))
    ):
        visit.go("photographs?job=E-1&panel=bonnet")
        visit.choose("Stage", stage)
        if number == 0:  # the scale that was typed last is the next one's
            page.get_by_text("Scale, and file names").click()
            page.get_by_text("Pixels per mm", exact=True).first.click()
            visit.settle()
            page.get_by_role("spinbutton", name="Pixels per mm").first.fill("10")
            page.keyboard.press("Enter")
            visit.settle()
        given(visit, str(file))
        assert page.get_by_text(file.name).first.is_visible()
    visit.go("before-after?job=E-1&panel=bonnet")
    assert "reduced by" in page.get_by_role("heading", level=3).first.inner_text()
    page.get_by_text("Slider", exact=True).click()
    bar = page.locator("input[type=range]").first
    bar.focus()
    page.keyboard.press("ArrowRight")
    assert bar.input_value() == "51"
    visit.go("report?job=E-1")
    with page.expect_download() as waiting:
        page.get_by_role("button", name="Report as PDF").click()
    report = tmp_path / "report.pdf"
    waiting.value.save_as(report)
    assert report.read_bytes().startswith(b"%PDF-")
    # straight from an iPhone, and as large as a phone's camera makes it
    visit.go("photographs?job=E-1&panel=roof")
    given(visit, {"name": "IMG_0007.HEIC", "mimeType": "", "buffer": HEIC.read_bytes()})
    assert page.get_by_text("IMG_0007.HEIC").first.is_visible()
    large = {"name": "image.jpg", "mimeType": "image/jpeg", "buffer": twelve_megapixels(shots.before)}
    given(visit, large)
    page.get_by_text("image.jpg").first.wait_for()
    # a second browser finds everything, and nothing is measured anew
    again = Visit(browser, server)
    again.go("panel-result?job=E-1&panel=bonnet")
    again.page.get_by_text("out of 100").first.wait_for()
    assert visit.outside | again.outside == set()


# What is pressed, and in the case of fields the box around them; menus that are shut lie left of the screen.
PRESSED = """() => [...document.querySelectorAll(`
    [data-testid^="stBaseButton-"]:not([data-testid$="elementToolbar"]), [data-testid="stPopoverButton"],
    [data-testid="stExpander"] summary, [data-testid="stTab"], [data-testid="stPageLink-NavLink"],
    [data-testid="stRadioOption"], [data-testid="stCheckbox"] label, [data-testid="stTextInputRootElement"],
    [data-testid="stNumberInputContainer"], [data-testid="stExpandSidebarButton"],
    [data-testid="stMainMenuButton"], [data-testid="stButtonGroup"] button`)]
  .filter(one => one.checkVisibility() && one.getBoundingClientRect().x >= 0)
  .map(one => [one.dataset.testid || one.tagName, one.innerText, one.getBoundingClientRect().height])"""
CUT = """() => [...document.querySelectorAll('th, td, p, li, img, h1, h2, h3')]
  .filter(one => one.checkVisibility())
  .filter(one => one.getBoundingClientRect().right > innerWidth + 1 || one.scrollWidth > one.clientWidth + 1)
  .map(one => one.outerHTML.slice(0, 80))"""


def test_a_thumb_finds_everything_on_a_phone(filled: Path, server: str, browser: Any) -> None:
    """44 px: WCAG 2.2, success criterion 2.5.5 (from memory)."""
    visit = Visit(browser, server, touch=True)
    for name in PAGES:
        visit.go(f"{name.replace('_', '-') if name != 'today' else ''}?job={JOB}&panel=bonnet")
        pressed = visit.page.evaluate(PRESSED)
        assert len(pressed) >= 3
        assert [one for one in pressed if one[2] < 43.5] == []  # half a pixel for rounding
        wide = visit.page.evaluate("document.querySelector('[data-testid=stMain]').scrollWidth")
        assert wide <= 390


@pytest.mark.parametrize("audience", ["customer", "full"])
def test_the_report_fits_a_phone(browser: Any, tmp_path: Path, audience: Audience) -> None:
    file = tmp_path / "report.html"
    file.write_text(report_html(made.five_panels(), audience=audience), encoding="utf-8")
    page = browser.new_page(viewport={"width": 390, "height": 844})
    page.goto(file.as_uri())
    assert page.evaluate(CUT) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_a_printed_heading_stays_with_what_follows(browser: Any, tmp_path: Path) -> None:
    report = made.five_panels()
    file, printed = tmp_path / "report.html", tmp_path / "report.pdf"
    file.write_text(report_html(report, audience="full"), encoding="utf-8")
    page = browser.new_page()
    page.goto(file.as_uri())
    headings = {h.strip() for h in page.locator("h2, h3").all_inner_texts()}
    page.pdf(path=printed, format="A4", margin=dict.fromkeys(("top", "bottom", "left", "right"), "15mm"))
    with pdfium.PdfDocument(printed) as document:
        assert len(document) > 3
        ends = [sheet.get_textpage().get_text_bounded().strip().splitlines()[-1] for sheet in document]
    assert not headings & {end.strip() for end in ends}


MOST_WORDS = 120
WORDS = """() => document.querySelector('[data-testid=stMain]').innerText.split(/\\s+/)
  .filter(word => /[a-zA-Z]/.test(word)).length"""


LOW_CONTRAST = Path(__file__).with_name("contrast.js").read_text(encoding="utf-8")
TWICE = (683, 384)  # a laptop's page at 200 %


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_pages_are_short_legible_and_whole_at_every_size(
    filled: Path, server: str, browser: Any, scheme: str
) -> None:
    """Few words before a door; WCAG 2.2, 1.4.3, 1.4.4 and 1.4.10 (from memory)."""
    visit = Visit(browser, server, size=DESK, color_scheme=scheme)
    for name in PAGES:
        visit.go(f"{name.replace('_', '-') if name != 'today' else ''}?job={JOB}&panel=bonnet")
        visit.page.wait_for_timeout(1500)
        for size in (DESK, PHONE, TWICE):
            visit.page.set_viewport_size({"width": size[0], "height": size[1]})
            visit.page.wait_for_timeout(400)
            assert (name, size, visit.page.evaluate(WORDS)) <= (name, size, MOST_WORDS)
            wide = visit.page.evaluate("document.querySelector('[data-testid=stMain]').scrollWidth")
            assert (name, wide) <= (name, size[0])
        assert (name, visit.page.evaluate(LOW_CONTRAST, 1)) == (name, [])
        assert visit.page.evaluate(LOW_CONTRAST, 9)  # held to 40 to 1 nothing passes: it does look
        visit.page.set_viewport_size({"width": DESK[0], "height": DESK[1]})
