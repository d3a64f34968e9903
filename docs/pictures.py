"""Make the pictures of the README from the sample job: overlay, two pages of the app, a page of the report.

    .venv/bin/python docs/pictures.py

Needs Chromium (Debian: `apt-get install chromium`) and the `dev` extra. Everything is made in a folder that
is thrown away; nothing is asked of any other computer.
"""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pypdfium2 as pdfium
from PIL import Image

from defectmap.commands.show_demo import find_samples, run_demo
from defectmap.pages.launch import Start, command, free_port
from defectmap.record.store import FOLDER_VARIABLE

DOCS = Path(__file__).resolve().parent
MOST_BYTES = 250_000  # of a picture: a clone stays small, the README loads at once
PANEL, OVERLAY = "left front door", "left-front-door-before-overlay.jpg"
PAGES = {"panel-result": 1230, "before-after": 1370}  # how high the window is, so that the pictures are seen
WINDOW_WIDTH = 1280
BROWSER_FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
)
WAIT_MS = 90_000


def main() -> None:
    """Make all of them."""
    program = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if program is None:
        sys.exit("There is no Chromium on this computer (Debian: apt-get install chromium).")
    samples = find_samples(None)
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder)
        _, job = run_demo(out=out, samples=samples)
        keep(Image.open(out / OVERLAY), DOCS / "overlay.jpg", width=1200)
        keep(first_page(out / "report.pdf"), DOCS / "report.jpg", width=1000)
        with server(out, job) as address:
            take_screenshots(program, address, job)


@contextmanager
def server(out: Path, job: str) -> Iterator[str]:
    """The pages, served to this computer until the block ends."""
    start = Start(port=free_port(8800), record=out / "record", job=job, browser=False)
    environment = {**os.environ, FOLDER_VARIABLE: str(out / "record"), "XDG_DATA_HOME": str(out / "data")}
    running = subprocess.Popen(command(start, start.port), env=environment, stdout=subprocess.DEVNULL)
    address = f"http://localhost:{start.port}"
    try:
        until = time.monotonic() + 60
        while True:
            try:
                urllib.request.urlopen(f"{address}/_stcore/health", timeout=2).close()
                break
            except OSError:
                if time.monotonic() > until:
                    sys.exit("The pages did not come up within a minute.")
                time.sleep(0.3)
        yield address
    finally:
        running.send_signal(signal.SIGTERM)
        running.wait(timeout=20)


def take_screenshots(program: str, address: str, job: str) -> None:
    """The page of one panel's result, and that of before and after."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as started:
        browser = started.chromium.launch(executable_path=program, args=BROWSER_FLAGS)
        page = browser.new_page(color_scheme="light")
        page.set_default_timeout(WAIT_MS)
        for place, height in PAGES.items():
            page.set_viewport_size({"width": WINDOW_WIDTH, "height": height})
            page.goto(f"{address}/{place}?job={job}&panel={PANEL.replace(' ', '%20')}")
            page.wait_for_selector("h1")
            settle(page)
            if place == "panel-result":  # the side that has marks to show
                page.get_by_role("combobox", name="Photograph").click()
                page.get_by_role("option").first.click()
                settle(page)
            shot = DOCS / f"{place}.png"
            page.screenshot(path=shot)
            keep(Image.open(shot), shot.with_suffix(".jpg"), width=WINDOW_WIDTH)
            shot.unlink()
        browser.close()


def settle(page: Any) -> None:
    """Wait until the server has drawn everything: pictures are in, its Stop button is gone for a while."""
    for _ in range(3):
        page.wait_for_timeout(800)
        page.wait_for_function(
            "![...document.querySelectorAll('button')].some(b => b.innerText.trim() === 'Stop')"
            " && [...document.images].every(picture => picture.complete)"
        )


def first_page(file: Path) -> Image.Image:
    """The first page of a PDF as a picture."""
    document = pdfium.PdfDocument(file)
    picture: Image.Image = document[0].render(scale=2.5).to_pil()
    document.close()
    return picture


def keep(picture: Image.Image, file: Path, *, width: int) -> None:
    """Write a JPEG of this width, packed as little as its limit allows."""
    size = (width, round(picture.height * width / picture.width))
    small = picture.convert("RGB").resize(size, Image.Resampling.LANCZOS)
    for quality in range(92, 30, -6):
        small.save(file, quality=quality, optimize=True)
        if file.stat().st_size <= MOST_BYTES:
            print(f"{file.name}: {size[0]} x {size[1]} px, {file.stat().st_size / 1000:.0f} kB")
            return
    sys.exit(f"{file} does not fit into {MOST_BYTES / 1000:.0f} kB; make it narrower.")


if __name__ == "__main__":
    main()
