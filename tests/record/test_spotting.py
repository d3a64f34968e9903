"""Several files at once find their spots: by name, by what they show, by their time, else in their order."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from defectmap.record.spotting import Given, propose_spots
from tests import phantom

SIZE, PX_PER_MM = (480, 640), 5.0
SPOTS = ("1", "2", "3")


def shot(spot: int, *, seed: int, after: bool = False, taken: str | None = None) -> bytes:
    """A photograph of one of three places, each with marks of its own; after polishing from a new set-up."""
    grooves = phantom.swirls(spot, density_mm_per_cm2=40) + phantom.scratches(spot, count=6)
    moved: dict[str, Any] = {"offset_mm": (2.0, -1.5), "lamp_mm": (-4.0, 3.0, 470.0)} if after else {}
    if after:
        grooves = phantom.polished(grooves, seed=9, keep_share=0.5)
    how = phantom.Shot(size_px=SIZE, px_per_mm=PX_PER_MM, seed=seed, taken=taken, **moved)
    jpeg = phantom.photograph(grooves, how, panel=phantom.Panel(seed=spot)).jpeg
    assert jpeg is not None
    return jpeg


@pytest.fixture(scope="module")
def before(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("before")
    for spot in SPOTS:
        (folder / spot).write_bytes(shot(int(spot), seed=int(spot)))
    return {spot: folder / spot for spot in SPOTS}


def proposed(files: list[Given], before: dict[str, Path]) -> list[tuple[str, str]]:
    return [(p.spot, p.why) for p in propose_spots(files, SPOTS, before=before, panels={})]


def test_what_a_file_shows_tells_its_spot_whatever_its_order(before: dict[str, Path]) -> None:
    files = [Given(name=f"{n}.jpg", data=shot(n, seed=20 + n, after=True)) for n in (3, 1, 2)]
    assert proposed(files, before) == [("3", "overlap"), ("1", "overlap"), ("2", "overlap")]


def test_a_name_goes_before_what_is_shown(before: dict[str, Path]) -> None:
    assert proposed([Given(name="roof-spot2.jpg", data=shot(3, seed=5))], before) == [("2", "name")]


def test_without_photographs_before_the_camera_s_clock_decides() -> None:
    times = ("2026:05:12 10:02:00", "2026:05:12 10:00:00", "2026:05:12 10:01:00")
    files = [Given(name=f"{n}.jpg", data=shot(1, seed=n, taken=at)) for n, at in enumerate(times)]
    assert proposed(files, {}) == [("3", "time"), ("1", "time"), ("2", "time")]


def test_what_says_nothing_stands_in_its_order_and_numbers_go_on() -> None:
    files = [Given(name=f"{n}.jpg", data=b"no picture") for n in range(4)]
    assert proposed(files, {}) == [("1", "order"), ("2", "order"), ("3", "order"), ("4", "order")]
