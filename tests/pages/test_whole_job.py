"""A newcomer's whole job on a phone: two panels, three spots, three stages; every tap is counted."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from defectmap.record.intake import photographs_of
from defectmap.record.jobs import all_jobs
from defectmap.record.store import open_store
from tests.pages.browsing import Visit, chromium
from tests.pages.conftest import Shots
from tests.pages.test_camera import FAKE, film, scenes

pytestmark = pytest.mark.slow
PANELS, SPOTS = ("bonnet", "roof"), 3
MOST_TAPS_A_PANEL = 40
# A camera never gives the same file twice; the film that stands for it comes round again.
NEVER_THE_SAME = """
const real = ImageCapture.prototype.takePhoto;
ImageCapture.prototype.takePhoto = async function () {
  const seen = await createImageBitmap(await real.call(this)), canvas = document.createElement("canvas");
  canvas.width = seen.width;
  canvas.height = seen.height;
  const pen = canvas.getContext("2d");
  pen.drawImage(seen, 0, 0);
  for (const at of crypto.getRandomValues(new Uint16Array(40))) {
    pen.fillStyle = "#101010";
    pen.fillRect(at % seen.width, (at * 7) % 24, 2, 2);
  }
  return new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.95));
};"""


class Thumb(Visit):
    """A visit that counts what a thumb does."""

    taps = 0

    def tap(self, what: Any) -> None:
        what.scroll_into_view_if_needed()
        what.tap()
        self.taps += 1

    def button(self, name: str, *, exact: bool = False) -> Any:
        return self.page.get_by_role("button", name=name, exact=exact).first

    def menu(self, title: str) -> None:
        self.tap(self.page.get_by_test_id("stExpandSidebarButton"))
        self.tap(self.page.get_by_test_id("stSidebarNavLink").filter(has_text=title))
        self.page.get_by_role("heading", level=1).get_by_text(title).or_(
            self.page.get_by_role("heading", name="Your car")
        ).first.wait_for()
        self.settle()


def photograph_both(thumb: Thumb) -> None:
    for number, _ in enumerate(PANELS):
        for spot in range(1, SPOTS + 1):
            thumb.page.get_by_text(f"spot {spot} of {SPOTS}").wait_for()
            thumb.page.wait_for_selector("button.shutter.ready")
            thumb.tap(thumb.page.locator("button.shutter"))
            thumb.page.get_by_text(f"Spot {spot} kept.").wait_for()
        if number + 1 < len(PANELS):
            thumb.tap(thumb.button("Next panel"))
            thumb.settle()


def read_thickness(thumb: Thumb) -> None:
    pad = thumb.page.locator(".pad")
    pad.wait_for()
    for reading in ("118", "120", "119"):
        for digit in reading:
            thumb.tap(pad.get_by_role("button", name=digit, exact=True))
        thumb.tap(thumb.button("Take this reading"))
    thumb.tap(thumb.button("Save (3)"))
    thumb.page.get_by_text("Entered: 3 readings").wait_for()
    thumb.settle()


def test_two_panels_three_spots_three_stages(server: str, shots: Shots, tmp_path: Path) -> None:
    flag = film(tmp_path / "film.mjpeg", {"ready": scenes(shots.before)["ready"]}, seconds=2)
    with chromium(*FAKE, flag) as browser:
        thumb = Thumb(browser, server, touch=True)
        thumb.page.add_init_script(NEVER_THE_SAME)
        thumb.go("")
        for name in PANELS:
            thumb.tap(thumb.page.locator(f'[data-panel][aria-label="{name}"]'))
        thumb.settle()
        thumb.tap(thumb.button("Start the job"))
        for step in ("Wash", "Decontaminate"):
            thumb.tap(thumb.button(f"{step}: done on every panel"))
            thumb.page.get_by_text("Entered:", exact=True).first.wait_for()
            thumb.settle()
        thumb.tap(thumb.page.get_by_role("link", name="Photograph it"))
        thumb.page.get_by_role("heading", name="Camera").wait_for()
        photograph_both(thumb)
        thumb.menu("Next step")
        read_thickness(thumb)
        thumb.tap(thumb.page.get_by_role("combobox", name="Panel").first)
        thumb.tap(thumb.page.get_by_role("option", name="bonnet", exact=True))
        thumb.settle()
        read_thickness(thumb)
        thumb.tap(thumb.page.get_by_text("On every panel"))
        thumb.settle()
        thumb.tap(thumb.page.get_by_text("Correction, test spot, product"))
        thumb.tap(thumb.button("Save correction"))
        thumb.page.get_by_text("Entered:", exact=True).first.wait_for()
        thumb.menu("Camera")
        photograph_both(thumb)
        thumb.menu("Next step")
        thumb.tap(thumb.page.get_by_text("On every panel"))
        thumb.settle()
        thumb.tap(thumb.button("Solvent wipe", exact=True))
        thumb.page.get_by_text("Entered:", exact=True).first.wait_for()
        thumb.menu("Camera")
        photograph_both(thumb)
        thumb.menu("Before and after")
        thumb.menu("Customer's view")
        thumb.page.get_by_role("button", name="Folder to hand over").wait_for()
        thumb.menu("Report")
        thumb.page.get_by_role("button", name="Report as PDF").wait_for()
        assert thumb.outside == set()
    store = open_store(tmp_path / "record")
    (job,) = all_jobs(store)
    kept = photographs_of(store, job.reference)
    store.close()
    stages = ("decontaminated", "corrected", "wiped")
    expected = {(p, s, str(n)) for p in PANELS for s in stages for n in range(1, SPOTS + 1)}
    assert {(p.panel, p.stage, p.spot) for p in kept} == expected
    print(f"{thumb.taps} taps, {thumb.taps / len(PANELS):.1f} a panel")
    assert thumb.taps < MOST_TAPS_A_PANEL * len(PANELS)
