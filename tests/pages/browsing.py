"""A real browser on a real server: what the tests of pages in Chromium share."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from time import monotonic, sleep
from typing import Any

import pytest

from defectmap.pages.launch import free_port
from defectmap.record.store import FOLDER_VARIABLE

FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
WAIT_MS = 90_000
START_S = 180  # on a machine that does much else
DESK, PHONE = (1366, 768), (390, 844)


@contextmanager
def serving(folder: Path) -> Iterator[str]:
    """The pages on a record in `folder`/record, as `defectmap app` serves them."""
    port = free_port(8700 + os.getpid() % 400)
    environment = {
        **os.environ,
        FOLDER_VARIABLE: str(folder / "record"),
        "XDG_DATA_HOME": str(folder / "data"),
    }
    program = [sys.executable, "-m", "defectmap", "app", "--port", str(port), "--no-browser"]
    running = subprocess.Popen(program, env=environment, stdout=subprocess.DEVNULL)
    address = f"http://localhost:{port}"
    until = monotonic() + START_S
    while True:
        try:
            urllib.request.urlopen(f"{address}/_stcore/health", timeout=2).close()
            break
        except OSError:
            assert monotonic() < until, f"the pages did not come up within {START_S} s"
            sleep(0.3)
    try:
        yield address
    finally:
        running.send_signal(signal.SIGTERM)
        running.wait(timeout=START_S)


@contextmanager
def chromium(*flags: str) -> Iterator[Any]:
    """A browser without a window; the test is skipped where there is none."""
    program = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if program is None:
        pytest.skip("no Chromium on this machine (Debian: apt-get install chromium)")
    driver = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    with driver.sync_playwright() as started:
        opened = started.chromium.launch(executable_path=program, args=[*FLAGS, *flags])
        yield opened
        opened.close()


class Visit:
    """One browser window, with the addresses that it asked for."""

    def __init__(
        self, browser: Any, server: str, *, size: tuple[int, int] = PHONE, touch: bool = False, **more: object
    ) -> None:
        self.server = server
        self.page = browser.new_page(
            viewport={"width": size[0], "height": size[1]},
            accept_downloads=True,
            has_touch=touch,
            is_mobile=touch,
            **more,
        )
        self.page.set_default_timeout(WAIT_MS)
        self.asked: list[str] = []
        self.page.on("request", lambda request: self.asked.append(request.url))

    def go(self, place: str) -> None:
        self.page.goto(f"{self.server}/{place}")
        self.page.wait_for_selector("h1")
        self.settle()

    def settle(self) -> None:
        """Wait until the server has drawn everything: its Stop button is gone for a moment."""
        self.page.wait_for_timeout(800)
        self.page.wait_for_function(
            "![...document.querySelectorAll('button')].some(b => b.innerText.trim() === 'Stop')"
        )
        self.page.wait_for_timeout(300)

    def choose(self, label: str, option: str) -> None:
        self.page.get_by_role("combobox", name=label).first.click()
        self.page.get_by_role("option", name=option, exact=True).click()
        self.settle()

    def press(self, name: str) -> None:
        self.page.get_by_role("button", name=name).first.click()
        self.settle()

    @property
    def outside(self) -> set[str]:
        """Addresses that are not this computer's."""
        own = (self.server, self.server.replace("http:", "ws:"), "data:", "blob:")
        return {url for url in self.asked if not url.startswith(own)}
