"""The same figures in the same order from a Dask cluster, whose workers may die."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from contextlib import nullcontext
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from defectmap.commands import measure_cluster
from defectmap.commands.measure_cluster import ClusterError
from defectmap.commands.measure_many import results
from defectmap.commands.measure_work import KILLED, Done, Work
from tests.phantom import Shot, photograph, swirls
from tests.photofiles import saved

distributed = pytest.importorskip("distributed")
pytestmark = [pytest.mark.slow, pytest.mark.filterwarnings("ignore")]


@pytest.fixture(scope="module")
def scheduler() -> Iterator[Any]:
    with distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster:
        yield cluster


@pytest.fixture(scope="module")
def jpeg() -> bytes:
    rgb = photograph(swirls(3, density_mm_per_cm2=30.0), Shot(px_per_mm=10.0)).rgb
    return saved(rgb, "JPEG", quality=95)


def works(folder: Path, jpeg: bytes, count: int) -> list[Work]:
    made = []
    for number in range(count):
        path = folder / f"{number:02}.jpg"
        path.write_bytes(jpeg if number != 1 else b"no picture at all, but some bytes of words")
        made.append(Work(name=path.name, source=path, px_per_mm=10.0, zone="zone.png"))
    return made


def test_figures_and_order_are_those_of_one_core(scheduler: Any, tmp_path: Path, jpeg: bytes) -> None:
    work = works(tmp_path, jpeg, 7)
    one = [(done.record, done.zone_png) for done in results(work)]
    assert [(d.record, d.zone_png) for d in results(work, cluster=scheduler.scheduler_address)] == one


def test_workers_that_die_lose_nothing(scheduler: Any, tmp_path: Path, jpeg: bytes) -> None:
    work = works(tmp_path, jpeg, 12)
    found = []
    for number, done in enumerate(results(work, cluster=scheduler.scheduler_address)):
        found.append(done.record)
        if number in (2, 6):
            victim = next(iter(scheduler.workers.values()))
            os.kill(victim.pid if victim.pid else 0, signal.SIGKILL)
    assert [record["photo"]["name"] for record in found] == [one.name for one in work]
    assert [bool(record["refused"]) for record in found] == [number == 1 for number in range(12)]


def kill_on_1(work: Work) -> Done:
    if work.name == "01.jpg":
        os.kill(os.getpid(), signal.SIGKILL)
    return Done(record={"photo": {"name": work.name}})


def test_a_photograph_that_kills_workers_fails_alone(
    scheduler: Any, tmp_path: Path, jpeg: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(measure_cluster, "_work_with_one_thread", kill_on_1)
    found = list(results(works(tmp_path, jpeg, 8), cluster=scheduler.scheduler_address))
    assert [done.fault for done in found] == [KILLED if number == 1 else None for number in range(8)]


def test_a_film_goes_by_its_path(tmp_path: Path) -> None:
    film = tmp_path / "door.mp4"
    film.write_bytes(b"0000ftypisom" + bytes(100))
    work = Work(name=film.name, source=film)
    assert measure_cluster._with_bytes(work) is work


def test_workers_that_start_anew_are_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    waits = iter([TimeoutError(), "done"])

    def wait(futures: list[Any], **_: Any) -> SimpleNamespace:
        outcome = next(waits)
        if isinstance(outcome, TimeoutError):
            raise outcome
        return SimpleNamespace(done=set(futures))

    monkeypatch.setattr(distributed, "wait", wait)
    asked: list[int] = []
    client = SimpleNamespace(
        as_current=nullcontext, wait_for_workers=lambda number, timeout: asked.append(number)
    )
    assert measure_cluster._ended(client, ["a photograph"]) == ["a photograph"]
    assert asked == [1]


def test_nobody_at_the_address_is_said(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, jpeg: bytes) -> None:
    monkeypatch.setattr(measure_cluster, "PATIENCE_S", 0.5)
    with pytest.raises(ClusterError, match=r"No Dask scheduler with workers answers at tcp://127\.0\.0\.1:9"):
        list(results(works(tmp_path, jpeg, 2), cluster="tcp://127.0.0.1:9"))
