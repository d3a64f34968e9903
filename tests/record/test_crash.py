"""A process that dies at any point, and two that write at once: nothing that was finished is lost."""

from __future__ import annotations

import multiprocessing
import os
import random
import signal
import sys
import time
from collections.abc import Callable
from pathlib import Path
from types import FrameType
from typing import Any

import pytest

import defectmap.record
from defectmap.record import measuring
from defectmap.record.history import histories
from defectmap.record.intake import Place, add_photograph, photographs_of
from defectmap.record.jobs import create_job
from defectmap.record.measuring import PhotoRequest, measure_job
from defectmap.record.store import Store, open_store
from defectmap.record.thickness_entries import add_readings
from defectmap.record.verifying import verify
from tests.record import fakes
from tests.record.kept import latest_measurements

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs POSIX processes and signals")

PHOTOS = 6
OURS = str(Path(defectmap.record.__file__).parent)
FORK = multiprocessing.get_context("fork") if hasattr(os, "fork") else None


def work(folder: Path, url: str | None, photos: list[Path], tell: Callable[[str], None]) -> None:
    """Add every photograph to the job, then measure; `tell` hears what is finished."""
    store = open_store(folder, url=url)
    for number, photo in enumerate(photos):
        place = Place(panel=("bonnet", "roof")[number % 2], stage="decontaminated", spot=str(number // 2))
        tell("added " + add_photograph(store, "J1", photo, place).photograph.name)
    measure_job(
        store, "J1", measure=fakes.measure, progress=lambda done, total, what: tell("measured " + what)
    )
    store.close()


class Countdown:
    """Counts the lines of the package that run, and kills this process at one of them."""

    def __init__(self, kill_at: int | None) -> None:
        self.kill_at = kill_at
        self.count = 0

    def __call__(self, frame: FrameType, _event: str, _value: Any) -> Any:
        return self.line if frame.f_code.co_filename.startswith(OURS) else None

    def line(self, _frame: FrameType, event: str, _value: Any) -> Any:
        if event == "line":
            self.count += 1
            if self.count == self.kill_at:
                os.kill(os.getpid(), signal.SIGKILL)
        return self.line


def child(folder: Path, url: str | None, photos: list[Path], log: Path, kill_at: int | None) -> None:
    countdown = Countdown(kill_at)
    with log.open("a", buffering=1) as out:
        sys.settrace(countdown)
        work(folder, url, photos, lambda words: print(words, file=out))
        sys.settrace(None)
        print(f"lines {countdown.count}", file=out)


def run_child(store: Store, url: str | None, photos: list[Path], log: Path, kill_at: int | None) -> Any:
    assert FORK is not None
    process = FORK.Process(target=child, args=(store.folder, url, photos, log, kill_at))
    process.start()
    return process


def check_and_finish(store: Store, url: str | None, photos: list[Path], log: Path) -> None:
    """The record opens and verifies, holds all that was finished, and the same run again finishes it."""
    told = log.read_text().splitlines() if log.exists() else []
    again = open_store(store.folder, url=url)
    assert verify(again).sound
    there = photographs_of(again, "J1")
    measured = latest_measurements(again, "J1")
    names = {p.name for p in there}
    assert {line.removeprefix("added ") for line in told if line.startswith("added ")} <= names
    done = {p.name for p in there if p.id in measured}
    assert {line.removeprefix("measured ") for line in told if line.startswith("measured ")} <= done
    again.close()
    work(store.folder, url, photos, lambda _: None)
    assert len(photographs_of(store, "J1")) == len(photos)
    assert len(latest_measurements(store, "J1")) == len(photos)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(measuring, "measure_photograph", fakes.measure)
        report = verify(store, again=True)
    assert {f.kind for f in report.findings} <= {"unfinished copy"}
    assert [p for p in photos if not p.exists()] == []


@pytest.fixture
def photos(tmp_path: Path) -> list[Path]:
    # 1.1 MB: more than one chunk of the copy, so that a kill can come in the middle of a file
    return [fakes.photo(tmp_path, number, size=1_100_000) for number in range(PHOTOS)]


def lines_of_a_whole_run(store: Store, url: str | None, photos: list[Path], log: Path) -> int:
    process = run_child(store, url, photos, log, None)
    process.join(60)
    assert process.exitcode == 0
    return int(log.read_text().split("lines ")[1])


def kill_at_lines(tmp_path: Path, photos: list[Path], server: Any, *, kills: int) -> None:
    new_url = (lambda: None) if server is None else server.new_database
    url = new_url()
    store = open_store(tmp_path / "whole", url=url)
    create_job(store, "J1", panels=fakes.PANELS)
    lines = lines_of_a_whole_run(store, url, photos, tmp_path / "whole.log")
    store.close()
    rng = random.Random(20260302)
    for number, kill_at in enumerate(sorted(rng.sample(range(1, lines), kills))):
        url = new_url()
        store = open_store(tmp_path / f"record{number}", url=url)
        create_job(store, "J1", panels=fakes.PANELS)
        log = tmp_path / f"{number}.log"
        process = run_child(store, url, photos, log, kill_at)
        process.join(60)
        assert process.exitcode == -signal.SIGKILL
        check_and_finish(store, url, photos, log)
        store.close()


@pytest.fixture(params=["sqlite", "postgresql"])
def server(request: pytest.FixtureRequest) -> Any:
    return None if request.param == "sqlite" else request.getfixturevalue("postgresql")


def test_a_process_killed_at_three_lines_leaves_a_sound_job(
    tmp_path: Path, photos: list[Path], server: Any
) -> None:
    kill_at_lines(tmp_path, photos, server, kills=3)


@pytest.mark.slow
def test_a_process_killed_at_fifty_lines_leaves_a_sound_job(
    tmp_path: Path, photos: list[Path], server: Any
) -> None:
    kill_at_lines(tmp_path, photos, server, kills=50)


@pytest.mark.slow
def test_a_process_killed_at_fifty_moments_leaves_a_sound_job(tmp_path: Path, photos: list[Path]) -> None:
    """Between lines too: inside the copying, the flushing and the committing."""
    store = open_store(tmp_path / "whole")
    create_job(store, "J1", panels=fakes.PANELS)
    begun = time.monotonic()
    lines_of_a_whole_run(store, None, photos, tmp_path / "whole.log")
    whole_s = time.monotonic() - begun
    store.close()
    rng = random.Random(7)
    killed = 0
    for number in range(50):
        store = open_store(tmp_path / f"record{number}")
        create_job(store, "J1", panels=fakes.PANELS)
        log = tmp_path / f"{number}.log"
        process = run_child(store, None, photos, log, None)
        time.sleep(rng.uniform(0, whole_s))
        process.kill()
        process.join(60)
        killed += process.exitcode == -signal.SIGKILL
        check_and_finish(store, None, photos, log)
        store.close()
    assert killed >= 25  # a run may end before its moment comes; most must not


def writer(folder: Path, url: str | None, photos: list[Path], panel: str) -> None:
    store = open_store(folder, url=url)
    for number, photo in enumerate(photos):
        add_photograph(store, "J1", photo, Place(panel=panel, stage="washed", spot=photo.stem[-1]))
        if number % 10 == 0:
            add_readings(store, "J1", "roof", "middle", (100.0 + number / 10,))
    store.close()


def two_writers(tmp_path: Path, server: Any, *, photos: int) -> None:
    """Each adds its half to one panel; a tenth of the photographs is added by both."""
    assert FORK is not None
    url = None if server is None else server.new_database()
    store = open_store(tmp_path / "record", url=url)
    create_job(store, "J1", panels=fakes.PANELS)
    files = [fakes.photo(tmp_path, number) for number in range(photos)]
    shared = photos // 10
    # Both begin with the shared ones, at the same moment and at the same place.
    work_lists = [files[: photos // 2], files[:shared] + files[photos // 2 :]]
    processes = [FORK.Process(target=writer, args=(store.folder, url, part, "bonnet")) for part in work_lists]
    for process in processes:
        process.start()
    for process in processes:
        process.join(300)
        assert process.exitcode == 0
    added = photographs_of(store, "J1")
    assert sorted(p.name for p in added) == [f.name for f in files]
    assert len(histories(store, "J1")[1].readings) == sum(-(-len(part) // 10) for part in work_lists)
    report = verify(store)
    assert (report.originals, report.findings) == (photos, ())
    store.close()


def test_two_writers_of_sixty_photographs_lose_nothing(tmp_path: Path, server: Any) -> None:
    two_writers(tmp_path, server, photos=60)


@pytest.mark.slow
def test_two_writers_of_a_thousand_photographs_lose_nothing(tmp_path: Path, server: Any) -> None:
    two_writers(tmp_path, server, photos=1000)


def slow_measure(request: PhotoRequest) -> dict[str, object]:
    (request.path.parents[2] / f"worker-{os.getpid()}").touch()
    time.sleep(30)
    return {}


def measure_slowly(folder: Path) -> None:
    measure_job(open_store(folder), "J1", measure=slow_measure, workers=2)


@pytest.mark.slow
def test_workers_end_with_a_killed_run(tmp_path: Path, photos: list[Path]) -> None:
    assert FORK is not None
    store = open_store(tmp_path / "record")
    create_job(store, "J1", panels=fakes.PANELS)
    for photo in photos:
        add_photograph(store, "J1", photo, Place(panel="roof", stage="washed"))
    process = FORK.Process(target=measure_slowly, args=(store.folder,))
    process.start()
    deadline = time.monotonic() + 30
    while len(workers := list(store.folder.glob("worker-*"))) < 2 and time.monotonic() < deadline:
        time.sleep(0.05)
    process.kill()
    process.join()
    pids = [int(worker.name.split("-")[1]) for worker in workers]
    assert len(pids) == 2
    deadline = time.monotonic() + 10
    while (alive := [pid for pid in pids if running(pid)]) and time.monotonic() < deadline:
        time.sleep(0.05)
    assert alive == []
    store.close()


def running(pid: int) -> bool:
    try:
        return "State:\tZ" not in Path(f"/proc/{pid}/status").read_text()
    except FileNotFoundError:
        return False
