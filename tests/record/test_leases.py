"""Several bays at one job: no photograph is measured twice, none never, whoever dies."""

from __future__ import annotations

import dataclasses
import multiprocessing
import os
import signal
import socket
import time
from collections import Counter
from collections.abc import Callable, Generator
from contextlib import closing
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy.exc import OperationalError

from defectmap.film.reading import Frame, open_film
from defectmap.record import leases, sharing
from defectmap.record.filming import telling
from defectmap.record.intake import Place, add_photograph
from defectmap.record.jobs import create_job
from defectmap.record.leases import LEASE_S, Holder, Leased
from defectmap.record.measuring import PhotoRequest, measure_job
from defectmap.record.store import Store, open_store
from defectmap.record.verifying import verify
from tests.filmed import film_files
from tests.record import fakes
from tests.record.kept import latest_measurements

PLACE = Place(panel="bonnet", stage="decontaminated", px_per_mm=20.0)
SPAWN = multiprocessing.get_context("spawn")
LOG, WAIT = "DEFECTMAP_TEST_LOG", "DEFECTMAP_TEST_WAIT"


@pytest.fixture
def item(store: Store, job: str, tmp_path: Path) -> Leased:
    added = add_photograph(store, job, fakes.photo(tmp_path, 1), PLACE)
    return Leased(photograph_id=added.photograph.id, settings_sha256="0" * 64)


def at(store: Store, seconds: float) -> Store:
    """The same record, so many seconds later."""
    now = datetime.fromisoformat(store.clock()) + timedelta(seconds=seconds)
    return dataclasses.replace(store, clock=lambda: now.isoformat(timespec="microseconds"))


def test_one_of_two_gets_it_and_the_other_after_it_is_given_back(store: Store, item: Leased) -> None:
    one, other = Holder(store=store), Holder(store=store)
    assert (one.take(item), other.take(item)) == ("taken", "elsewhere")
    other.give_back(item)  # it is not his to give
    assert other.take(item) == "elsewhere"
    one.give_back(item)
    assert other.take(item) == "taken"


def test_a_lease_runs_out_unless_it_is_moved_on(store: Store, item: Leased) -> None:
    one = Holder(store=store)
    assert one.take(item) == "taken"
    assert Holder(store=at(store, LEASE_S - 5)).take(item) == "elsewhere"
    Holder(store=at(store, 0), id=one.id).move_on()
    Holder(store=at(store, 30), id=one.id).move_on()
    assert Holder(store=at(store, LEASE_S + 20)).take(item) == "elsewhere"
    assert Holder(store=at(store, LEASE_S + 40)).take(item) == "taken"


def test_a_lease_from_a_clock_that_was_set_back_binds_nobody(store: Store, item: Leased) -> None:
    assert Holder(store=at(store, 24 * 3600), id="other-bay 1 x").take(item) == "taken"
    assert Holder(store=at(store, 60)).take(item) == "taken"
    assert Holder(store=store).take(item) == "elsewhere"  # bays' clocks differ by a minute


def test_leases_are_moved_on_though_the_record_was_busy_once(
    store: Store, item: Leased, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(leases, "LEASE_S", 0.15)
    moved: list[str] = []

    def busy_once(holder: Holder) -> None:
        moved.append(holder.id)
        if len(moved) == 1:
            raise OperationalError("UPDATE lease", {}, Exception("database is locked"))

    monkeypatch.setattr(Holder, "move_on", busy_once)
    with Holder(store=store).at_work():
        until(lambda: len(moved) > 2)


@pytest.mark.skipif(os.name != "posix", reason="processes are asked by a signal")
def test_nobody_waits_for_a_dead_run_of_this_computer(store: Store, item: Leased) -> None:
    gone = SPAWN.Process(target=int)
    gone.start()
    gone.join()
    assert Holder(store=store, id=f"{socket.gethostname()} {gone.pid} x").take(item) == "taken"
    assert Holder(store=store).take(item) == "taken"
    elsewhere = Holder(store=store, id=f"other-bay {gone.pid} y")
    assert elsewhere.take(item) == "elsewhere"


def logged(request: PhotoRequest) -> dict[str, object]:
    """In a worker: tells of each photograph that it measures."""
    time.sleep(0.02)
    with open(os.environ[LOG], "a") as log:
        log.write(f"{request.name}\n")
    return fakes.measure(request)


def frames_of(path: Path) -> Generator[Frame]:
    yield from open_film(path).frames()


def film_in_hand(request: PhotoRequest) -> dict[str, object]:
    """In a worker: half way through a film it waits, as long as there is the file to wait for."""
    with telling(request.shelf) as tell, closing(frames_of(request.path)) as frames:
        tell("measuring frames", next(frames).number, 3)
        wait = Path(os.environ[WAIT])
        if wait.exists():
            (wait.parent / f"worker-{os.getpid()}").write_text(" ".join(map(str, children(os.getpid()))))
        while wait.exists():
            time.sleep(0.05)
        assert [frame.number for frame in frames] == [1, 2]
    return logged(request)


def children(process: int) -> list[int]:
    """Processes that this process has started."""
    return [int(one) for one in Path(f"/proc/{process}/task/{process}/children").read_text().split()]


def lives(process: int) -> bool:
    try:
        return "State:\tZ" not in Path(f"/proc/{process}/status").read_text()
    except FileNotFoundError:
        return False


def until(true: Callable[[], object], *, within_s: float = 60.0) -> None:
    end = time.monotonic() + within_s
    while not true():
        assert time.monotonic() < end, "waited in vain"
        time.sleep(0.05)


@pytest.mark.slow
@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="Linux tells children there")
@pytest.mark.parametrize("victim", ["worker", "bay"])
@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_a_film_whose_worker_is_killed_half_way_is_measured_once(
    kind: str, victim: str, tmp_path: Path, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The other film is kept, the decoder ends with its worker, and the next bay need not wait."""
    url = None if kind == "sqlite" else request.getfixturevalue("postgresql").new_database()
    monkeypatch.setenv(LOG, str(tmp_path / "log"))
    monkeypatch.setenv(WAIT, str(tmp_path / "wait"))
    (tmp_path / "wait").touch()
    (tmp_path / "films").mkdir()
    store = filled(tmp_path / "record", url, 0, tmp_path / "photos")
    for file in film_files(tmp_path / "films").values():
        add_photograph(store, "J1", file, PLACE)
    first = SPAWN.Process(target=bay, args=(store.folder, url, 2, LEASE_S, film_in_hand))
    first.start()
    until(lambda: len(list(tmp_path.glob("worker-*"))) == 2)
    at_work = {int(file.name[7:]): file.read_text().split() for file in tmp_path.glob("worker-*")}
    decoders = [int(one) for found in at_work.values() for one in found]
    assert len(decoders) == 2
    os.kill(next(iter(at_work)) if victim == "worker" else first.pid or 0, signal.SIGKILL)
    (tmp_path / "wait").unlink()
    first.join(60)
    assert first.exitcode != 0
    until(lambda: not any(map(lives, (*at_work, *decoders))))
    kept = len(latest_measurements(store, "J1"))
    assert kept <= 1
    started = time.monotonic()
    bay(store.folder, url, 1, LEASE_S, film_in_hand)
    assert time.monotonic() - started < LEASE_S / 2
    assert len(latest_measurements(store, "J1")) == 2
    assert verify(store).sound
    store.close()


def bay(
    folder: Path,
    url: str | None,
    workers: int,
    lease_s: float,
    measure: Callable[[PhotoRequest], dict[str, object]] = logged,
) -> None:
    leases.LEASE_S = lease_s
    sharing.LOOK_AGAIN_S = 0.1
    store = open_store(folder, url=url)
    measure_job(store, "J1", measure=measure, workers=workers)
    store.close()


def start_bays(
    store: Store, url: str | None, *, bays: int, workers: int, lease_s: float = LEASE_S
) -> list[Any]:
    started = [SPAWN.Process(target=bay, args=(store.folder, url, workers, lease_s)) for _ in range(bays)]
    for process in started:
        process.start()
    return started


def filled(folder: Path, url: str | None, count: int, place: Path) -> Store:
    store = open_store(folder, url=url)
    create_job(store, "J1", panels=fakes.PANELS)
    place.mkdir()
    for number in range(count):
        add_photograph(store, "J1", fakes.photo(place, number), PLACE)
    return store


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_two_bays_measure_each_photograph_once(
    kind: str, tmp_path: Path, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    url = None if kind == "sqlite" else request.getfixturevalue("postgresql").new_database()
    monkeypatch.setenv(LOG, str(tmp_path / "log"))
    store = filled(tmp_path / "record", url, 60, tmp_path / "photos")
    for process in start_bays(store, url, bays=2, workers=2):
        process.join(120)
        assert process.exitcode == 0
    assert set(Counter((tmp_path / "log").read_text().split()).values()) == {1}
    assert len(latest_measurements(store, "J1")) == 60
    assert verify(store).sound
    store.close()


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="signals")
@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_what_a_killed_bay_held_is_measured_by_another(
    kind: str, tmp_path: Path, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    url = None if kind == "sqlite" else request.getfixturevalue("postgresql").new_database()
    monkeypatch.setenv(LOG, str(tmp_path / "log"))
    store = filled(tmp_path / "record", url, 60, tmp_path / "photos")
    victim, other = start_bays(store, url, bays=2, workers=2, lease_s=3.0)
    while not (tmp_path / "log").exists() or (tmp_path / "log").read_text().count("\n") < 15:
        time.sleep(0.01)
    os.kill(victim.pid, signal.SIGKILL)
    other.join(120)
    assert other.exitcode == 0
    counts = Counter((tmp_path / "log").read_text().split())
    assert len(counts) == 60
    assert sum(count - 1 for count in counts.values()) <= 4  # what the dead one had in hand
    assert len(latest_measurements(store, "J1")) == 60
    assert verify(store).sound
    store.close()
