"""The live camera in a real browser, with a camera that plays a film of our own."""

from __future__ import annotations

import io
from contextlib import closing
from pathlib import Path
from time import monotonic
from typing import Any

import cv2
import numpy as np
import pytest
from PIL import Image

from defectmap.record.intake import photographs_of
from defectmap.record.keeping import results_of
from defectmap.record.store import open_store
from defectmap.words.camera_words import FILM_WORDS, LIVE_WORDS
from tests.pages.browsing import DESK, PHONE, Visit, chromium
from tests.pages.conftest import JOB, Shots

pytestmark = pytest.mark.slow
SIZE = (640, 480)
FRAMES_A_SECOND, SCENE_S = 30, 2
LOOKS_A_SECOND = 10


def scenes(before: Path) -> dict[str, np.ndarray]:
    """What the camera sees, by the code of what should be said; each is the photograph before, changed."""
    seen = cv2.imread(str(before))
    assert seen is not None
    picture = cv2.resize(seen, SIZE, interpolation=cv2.INTER_AREA)

    def changed(zoom: float = 1.0, right: float = 0.0, turn_deg: float = 0.0) -> np.ndarray:
        # OpenCV turns against the clock for positive angles
        how = cv2.getRotationMatrix2D(((SIZE[0] - 1) / 2, (SIZE[1] - 1) / 2), -turn_deg, zoom)
        how[0, 2] += right * SIZE[0]
        return cv2.warpAffine(picture, how, SIZE, borderMode=cv2.BORDER_REFLECT)

    return {
        "no_lamp": np.full_like(picture, 12),
        "tilt_right": changed(right=0.1),  # all of it lies too far right: look farther to the right
        "farther": changed(zoom=1.25),
        "nearer": changed(zoom=0.8),
        "turn_right": changed(turn_deg=6),  # all of it is turned with the clock: the phone follows
        "too_bright": np.full_like(picture, 255),
        "ready": picture,
    }


def film(path: Path, shown: dict[str, np.ndarray], *, seconds: float) -> str:
    """Motion JPEG, as Chromium's fake camera plays it over and over; the flag that says so."""
    with path.open("wb") as file:
        for scene in shown.values():
            for number in range(int(FRAMES_A_SECOND * seconds)):
                noise = np.random.default_rng(number).normal(0, 2, scene.shape)
                seen = np.clip(scene + noise, 0, 255).astype(np.uint8)
                file.write(cv2.imencode(".jpg", seen, [cv2.IMWRITE_JPEG_QUALITY, 90])[1].tobytes())
    return f"--use-file-for-fake-video-capture={path}"


FAKE = ("--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream")


def looked(page: Any) -> dict[str, str]:
    return dict(page.eval_on_selector(".look", "look => ({...look.dataset})"))


@pytest.mark.parametrize(("size", "touch"), [(PHONE, True), (DESK, False)])
def test_the_words_say_what_to_do_ten_times_a_second(
    filled: Path, server: str, shots: Shots, tmp_path: Path, size: tuple[int, int], touch: bool
) -> None:
    shown = scenes(shots.before)
    said: dict[str, str] = {}
    with chromium(*FAKE, film(tmp_path / "film.mjpeg", shown, seconds=SCENE_S)) as browser:
        visit = Visit(browser, server, size=size, touch=touch)
        visit.go(f"camera?job={JOB}&panel=bonnet&stage=wiped&spot=1")
        visit.page.wait_for_selector(".look[data-looks]")
        start, first = monotonic(), int(looked(visit.page)["looks"])
        while monotonic() - start < 1.5 * SCENE_S * len(shown):
            # code and words at one moment: they change together
            code, heard = visit.page.eval_on_selector(
                ".look", "look => [look.dataset.code, look.getRootNode().querySelector('.say').textContent]"
            )
            said[code] = heard
            visit.page.wait_for_timeout(60)
        rate = (int(looked(visit.page)["looks"]) - first) / (monotonic() - start)
        assert visit.outside == set()
    assert set(shown) <= set(said)
    assert all(said[code] == LIVE_WORDS[code] for code in shown)
    assert rate > (0.9 if touch else 0.5) * LOOKS_A_SECOND  # what is asked for is a phone's


SWEEP = Path(__file__).resolve().parents[2] / "samples" / "films" / "before.mp4"
SWEEP_S, MEASURED_S = 8, 300


def swept(path: Path) -> str:
    """The sample's film before as what the camera sees, over and over."""
    reader = cv2.VideoCapture(str(SWEEP))
    frames: dict[str, np.ndarray] = {}
    while (read := reader.read())[0]:
        frames[str(len(frames))] = read[1]
    reader.release()
    return film(path, frames, seconds=SWEEP_S / len(frames))


def test_a_sweep_filmed_in_the_browser_is_kept_and_measured(
    filled: Path, server: str, tmp_path: Path
) -> None:
    with chromium(*FAKE, swept(tmp_path / "sweep.mjpeg")) as browser:
        visit = Visit(browser, server, touch=True)
        visit.go(f"camera?job={JOB}&panel=roof&stage=decontaminated")
        visit.page.wait_for_selector(".look[data-looks]")
        visit.page.get_by_role("button", name=FILM_WORDS["start"]).tap()
        visit.page.get_by_text(FILM_WORDS["doing"]).wait_for()
        dark = [visit.page.eval_on_selector(".trail", DARK_SHARE)]
        visit.page.wait_for_timeout(1000 * SWEEP_S)
        dark.append(visit.page.eval_on_selector(".trail", DARK_SHARE))
        visit.page.get_by_role("button", name=FILM_WORDS["stop"]).tap()
        visit.page.get_by_text("Spot 1 kept.").wait_for()
        until, found = monotonic() + MEASURED_S, None
        while found is None:
            assert monotonic() < until, "the film was not measured"
            visit.page.wait_for_timeout(2000)
            with closing(open_store(filled)) as store:
                results = results_of(store, JOB, panel="roof")
                found = next(iter(results.values()), None)
        visit.page.get_by_text("Spot 1: measuring").wait_for(state="hidden")
        visit.go(f"panel-result?job={JOB}&panel=roof&stage=decontaminated&spot=1")
        visit.page.get_by_text("Directions shown, %").wait_for()
        visit.page.screenshot(path=str(tmp_path / "film.png"), full_page=True)
        assert visit.outside == set()
    assert dark[1] < 0.5 * dark[0]  # of the live picture: what the lamp has not lit
    record = found.record
    assert record["refused"] is None
    assert len(record["film"]["used"]) >= 12
    assert record["film"]["directions_share"] > 0.5
    assert len(record["marks"]) > 40


# of the trail over the live picture: how much is as dark as when filming began
DARK_SHARE = """trail => {
    const codes = trail.getContext("2d").getImageData(0, 0, trail.width, trail.height).data;
    let dark = 0;
    for (let place = 3; place < codes.length; place += 4) dark += codes[place] > 120;
    return 4 * dark / codes.length;
}"""


def without_stills(page: Any) -> None:
    page.add_init_script("delete window.ImageCapture")


@pytest.mark.parametrize("way", ["still", "frame"])
def test_a_press_keeps_the_picture_and_counts_on(
    filled: Path, server: str, shots: Shots, tmp_path: Path, way: str
) -> None:
    flag = film(tmp_path / "film.mjpeg", {"ready": scenes(shots.before)["ready"]}, seconds=1)
    with chromium(*FAKE, flag) as browser:
        visit = Visit(browser, server, touch=True)
        if way == "frame":
            without_stills(visit.page)
        visit.go(f"camera?job={JOB}&panel=roof&stage=decontaminated")
        shutter = visit.page.locator("button.shutter")
        visit.page.wait_for_selector("button.shutter.ready")
        shutter.tap()
        visit.page.get_by_text("Spot 1 kept.").wait_for()
        note = visit.page.locator(".note").inner_text()
        visit.page.get_by_text("spot 2 of 3").wait_for()
        # the camera has stayed on: the next one needs no more than another press
        visit.page.wait_for_selector(".look[data-looks]")
        looks, until = int(looked(visit.page)["looks"]), monotonic() + 20
        while int(looked(visit.page)["looks"]) <= looks + 5:
            assert monotonic() < until, "the camera has stopped"
            visit.page.wait_for_timeout(100)
        visit.page.get_by_role("button", name="Next panel").tap()
        visit.page.get_by_text("Bonnet", exact=True).wait_for()
    assert ("Full photograph" in note) == (way == "still")
    assert "640 × 480 px" in note
    store = open_store(filled)
    (kept,) = [p for p in photographs_of(store, JOB) if p.panel == "roof"]
    assert (kept.spot, kept.stage) == ("1", "decontaminated")
    with Image.open(io.BytesIO(store.originals.kept(kept.sha256).path.read_bytes())) as picture:
        assert picture.size == SIZE
    store.close()


def test_without_a_camera_the_phones_own_one_is_offered(filled: Path, server: str) -> None:
    with chromium() as browser:
        visit = Visit(browser, server, touch=True)
        visit.go(f"camera?job={JOB}&panel=roof")
        visit.page.get_by_text("No camera was found here.").wait_for()
        assert visit.page.get_by_text("Use the phone's own camera").is_visible()
        assert not visit.page.locator("button.shutter").is_visible()
