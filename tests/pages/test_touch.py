"""Pictures, plan, pad and menu under a finger and from the keyboard, in a real browser."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from defectmap.pictures.car_shapes import CAR, HEIGHT
from defectmap.record.damages import damages_of
from defectmap.record.jobs import all_jobs
from defectmap.record.keeping import results_of
from defectmap.record.overview import overview
from defectmap.record.panels import panels_of
from defectmap.record.signatures import signature_picture, signatures_of
from defectmap.record.store import Store, open_store
from tests.pages.browsing import DESK, PHONE, Visit
from tests.pages.conftest import JOB

pytestmark = pytest.mark.slow
SIZES = pytest.mark.parametrize(("size", "touch"), [(PHONE, True), (DESK, False)])


def until(page: Any, check: Callable[[], bool]) -> None:
    """Wait until something has reached the record."""
    for _ in range(150):
        if check():
            return
        page.wait_for_timeout(200)
    raise AssertionError("it did not reach the record within half a minute")


def look_at(filled: Path, question: Callable[[Store], Any]) -> Any:
    store = open_store(filled)
    try:
        return question(store)
    finally:
        store.close()


def wiped(store: Store) -> Any:
    return next(one for one in results_of(store, JOB).values() if one.photograph.stage == "wiped")


def on_glass(page: Any, point: list[float], photo: dict[str, Any]) -> tuple[float, float]:
    page.locator(".view").scroll_into_view_if_needed()
    box = page.locator(".view").bounding_box()
    return (
        box["x"] + point[0] / photo["width_px"] * box["width"],
        box["y"] + point[1] / photo["height_px"] * box["height"],
    )


def at_result(browser: Any, server: str, **how: Any) -> Any:
    """The page Panel result of the bonnet, its picture drawn."""
    visit = Visit(browser, server, **how)
    visit.go(f"panel-result?job={JOB}&panel=bonnet")
    visit.page.wait_for_selector(".view img[src^=data]")
    return visit.page


@SIZES
def test_a_mark_is_touched_and_corrected_and_the_undo_stands_beside_it(
    filled: Path, server: str, browser: Any, size: tuple[int, int], touch: bool
) -> None:
    result = look_at(filled, wiped)
    page = at_result(browser, server, size=size, touch=touch)
    longest = max(result.record["marks"], key=lambda mark: mark["length_mm"])
    x, y = on_glass(page, longest["points"][len(longest["points"]) // 2], result.record["photo"])
    (page.touchscreen.tap if touch else page.mouse.click)(x, y)
    page.get_by_role("button", name="No mark in the paint").click()
    until(page, lambda: len(look_at(filled, wiped).corrections) == 1)
    undo = page.locator("button.undo")
    undo.wait_for()
    undo.click()
    until(page, lambda: look_at(filled, wiped).corrections == ())


def test_an_area_is_drawn_with_a_finger_and_left_out(filled: Path, server: str, browser: Any) -> None:
    page = at_result(browser, server, touch=True)
    page.get_by_role("button", name="Leave an area out").tap()
    x, y = on_glass(page, [100, 100], look_at(filled, wiped).record["photo"])
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 40, y + 30, steps=4)
    page.mouse.move(x + 90, y + 60, steps=4)
    page.mouse.up()
    until(page, lambda: len(look_at(filled, wiped).corrections) == 1)
    (area,) = look_at(filled, wiped).corrections
    assert area.left == pytest.approx(100, abs=8)
    photo = look_at(filled, wiped).record["photo"]
    wide = page.locator(".view").bounding_box()["width"]
    assert area.right - area.left == pytest.approx(90 / wide * photo["width_px"], rel=0.1)


def test_the_picture_obeys_the_keyboard(filled: Path, server: str, browser: Any) -> None:
    page = at_result(browser, server, size=DESK)
    page.locator(".view").focus()
    page.keyboard.press("+")
    page.keyboard.press("+")
    assert page.locator(".view").get_attribute("data-zoom") == "2.25"
    page.get_by_role("button", name="Next mark").press("Enter")
    assert page.locator(".view").get_attribute("data-chosen") == "0"
    page.get_by_role("button", name="Leave an area out").press("Enter")
    page.locator(".view").focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+ArrowDown")
    page.keyboard.press("Enter")
    until(page, lambda: len(look_at(filled, wiped).corrections) == 1)


def test_two_fingers_come_closer(filled: Path, server: str, browser: Any) -> None:
    page = at_result(browser, server, touch=True)
    zoom = page.evaluate(
        """() => {
        const view = [...document.querySelectorAll('*')].map(one => one.shadowRoot).filter(Boolean)
          .map(root => root.querySelector('.view')).find(Boolean) || document.querySelector('.view');
        const at = view.getBoundingClientRect();
        const finger = (type, id, x) => view.dispatchEvent(new PointerEvent(type, {pointerId: id,
          bubbles: true, clientX: at.left + x, clientY: at.top + 60, pointerType: 'touch', buttons: 1}));
        finger('pointerdown', 11, 100); finger('pointerdown', 12, 140);
        finger('pointermove', 11, 80); finger('pointermove', 12, 200);
        finger('pointerup', 11, 80); finger('pointerup', 12, 200);
        return +view.dataset.zoom; }"""
    )
    assert zoom == pytest.approx(3.0, rel=0.05)  # 40 px apart, then 120


@SIZES
def test_panels_are_tapped_on_the_cars_drawing(
    server: str, browser: Any, tmp_path: Path, size: tuple[int, int], touch: bool
) -> None:
    visit = Visit(browser, server, size=size, touch=touch)
    page = visit.page
    visit.go("")
    roof = page.locator('[data-panel][aria-label="roof"]')
    assert roof.get_attribute("aria-pressed") == "false"  # none is chosen beforehand
    if touch:
        roof.tap()
        page.locator('[data-panel][aria-label="bonnet"]').tap()
    else:
        roof.press("Enter")
        page.locator('[data-panel][aria-label="bonnet"]').press(" ")
    visit.settle()
    visit.press("Start the job")
    page.get_by_role("heading", name="Car and panels").wait_for()
    (job,) = look_at(tmp_path / "record", all_jobs)
    panels = look_at(tmp_path / "record", lambda store: panels_of(store, job.reference))
    assert {panel.name for panel in panels} == {"roof", "bonnet"}


@SIZES
def test_readings_go_in_place_by_place_and_a_wrong_one_is_struck_out(
    filled: Path, server: str, browser: Any, size: tuple[int, int], touch: bool
) -> None:
    visit = Visit(browser, server, size=size, touch=touch)
    page = visit.page
    visit.go(f"next-step?job={JOB}&panel=bonnet")
    pad = page.locator(".pad")
    pad.wait_for()
    for number in ("118", "1200", "119", "121"):
        for digit in number:
            if touch:
                pad.get_by_role("button", name=digit, exact=True).tap()
            else:
                pad.press(digit)
        page.get_by_role("button", name="Take this reading").click()
        if number == "1200":
            page.get_by_role("button", name="middle 1200").click()  # a slip: struck out where it stands
    for digit in "98":  # three good ones are in: the pad has gone on to the next place
        pad.get_by_role("button", name=digit, exact=True).click()
    page.get_by_role("button", name="Take this reading").click()
    page.get_by_role("button", name="Save (4)").click()
    readings: Callable[[Store], Any] = lambda store: overview(store, JOB).panels[0].history.readings  # noqa: E731
    until(page, lambda: len(look_at(filled, readings)) == 4)
    assert [(r.place, r.value_um) for r in look_at(filled, readings)] == [
        ("middle", 118),
        ("middle", 119),
        ("middle", 121),
        ("front", 98),
    ]


def test_the_phones_menu_closes_after_a_choice(filled: Path, server: str, browser: Any) -> None:
    visit = Visit(browser, server, touch=True)
    page = visit.page
    visit.go(f"car?job={JOB}&panel=bonnet")
    page.get_by_test_id("stExpandSidebarButton").click()
    link = page.get_by_test_id("stSidebarNavLink").filter(has_text="Next step")
    link.click()
    page.get_by_role("heading", name="Next step").wait_for()
    page.wait_for_timeout(1200)
    place = link.bounding_box()
    assert place is None or place["x"] + place["width"] <= 0


@SIZES
def test_a_finger_wipes_from_before_to_after(
    filled: Path, server: str, browser: Any, size: tuple[int, int], touch: bool
) -> None:
    visit = Visit(browser, server, size=size, touch=touch)
    page = visit.page
    visit.go(f"customer?job={JOB}")
    page.locator(".frame img.before").first.wait_for()
    assert JOB not in page.get_by_test_id("stMain").inner_text()
    page.locator(".frame").first.scroll_into_view_if_needed()
    box = page.locator(".frame").first.bounding_box()
    page.mouse.move(box["x"] + 0.5 * box["width"], box["y"] + 40)
    page.mouse.down()
    page.mouse.move(box["x"] + 0.8 * box["width"], box["y"] + 40, steps=4)
    page.mouse.up()
    bar = page.locator("input[type=range]").first
    assert int(bar.input_value()) == pytest.approx(80, abs=2)
    bar.press("ArrowLeft")
    assert int(bar.input_value()) == pytest.approx(79, abs=2)
    with page.expect_download() as waiting:
        page.get_by_role("button", name="Folder to hand over").click()
    assert waiting.value.suggested_filename == "your-car.zip"


@SIZES
def test_damage_is_touched_on_the_plan_and_the_customer_signs(
    filled: Path, server: str, browser: Any, size: tuple[int, int], touch: bool
) -> None:
    visit = Visit(browser, server, size=size, touch=touch)
    page = visit.page
    visit.go(f"arrival?job={JOB}")
    bonnet = page.locator('[data-panel][aria-label="bonnet"]')
    bonnet.wait_for()
    if touch:
        box = bonnet.bounding_box()
        bonnet.tap(position={"x": 0.75 * box["width"], "y": 0.25 * box["height"]})
    else:
        bonnet.press("Enter")  # the keyboard marks the middle of the panel
    page.get_by_text("New damage: bonnet").wait_for()
    page.get_by_role("radio", name="Chip").click()
    visit.settle()
    visit.press("Mark it")
    until(page, lambda: len(look_at(filled, lambda store: damages_of(store, JOB))) == 1)
    (chip,) = look_at(filled, lambda store: damages_of(store, JOB))
    left, top, width, height = CAR["bonnet"]
    share = (0.75, 0.25) if touch else (0.5, 0.5)
    assert chip.x == pytest.approx((left + share[0] * width) / 100, abs=0.02)
    assert chip.y == pytest.approx((top + share[1] * height) / HEIGHT, abs=0.02)
    page.get_by_role("textbox", name="Name", exact=True).fill("A. Person")
    page.keyboard.press("Tab")
    visit.settle()
    page.get_by_text("No", exact=True).click()
    visit.settle()
    keep = page.get_by_role("button", name="Keep the signature")
    assert keep.is_disabled()  # an empty sheet is no signature
    sheet = page.locator("canvas[aria-label^=Sign]")
    sheet.scroll_into_view_if_needed()
    box = sheet.bounding_box()
    page.mouse.move(box["x"] + 20, box["y"] + 20)
    page.mouse.down()
    for step in range(1, 9):
        page.mouse.move(box["x"] + 20 + 20 * step, box["y"] + 20 + (30 if step % 2 else 0))
    page.mouse.up()
    keep.click()
    signed: Callable[[Store], Any] = lambda store: signatures_of(store, JOB)  # noqa: E731
    until(page, lambda: len(look_at(filled, signed)) == 2)
    assert [(one.what, one.given, one.signed_by) for one in look_at(filled, signed)] == [
        ("intake", True, "A. Person"),
        ("pictures", False, "A. Person"),
    ]
    drawn = look_at(filled, lambda store: signature_picture(store, JOB, "intake"))
    with Image.open(io.BytesIO(drawn)) as picture:
        dark = np.asarray(picture.convert("L")) < 128
    assert picture.size == (900, 300)
    assert 0.001 < dark.mean() < 0.1  # lines on white
    visit.go(f"report?job={JOB}")
    page.get_by_text("does not want pictures").wait_for()
    assert page.get_by_role("button", name="Picture for posting").count() == 0
