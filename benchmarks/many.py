"""How many photographs a day: measured on this machine, and what follows for many.

    python benchmarks/many.py [--photos 40] [--jobs 2 4] [--cluster] [--rounds 3] [--record URL]

A folder of copies of the sample photographs is measured by one worker held to one thread, by this process
with all its cores, by so many worker processes, and with `--cluster` by a Dask cluster of as many workers on
this machine; in turn, `--rounds` times, so that a busy machine treats all alike. Clock and processor time
(of this process and all below it) are told, the median of the rounds, and the most memory that a worker held.
Then the time to keep a result is taken, and a model says what so many photographs a day need.
"""

from __future__ import annotations

import argparse
import math
import os
import resource
import shutil
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from defectmap.commands.measure_many import results
from defectmap.commands.measure_work import Done, Work
from defectmap.record.workers import ONE_THREAD

ROOT = Path(__file__).resolve().parents[1]
DAY_S, WANTED_A_DAY = 86_400.0, 100_000
BUSY_SHARE = 0.7  # of a worker's day: photographs do not come evenly
PLAIN = {"schema": 1, "photo": {"name": "x"}, "refused": "only the keeping is timed"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Constants:
    """What one photograph costs."""

    worker_s: float  # of one worker with one thread
    keep_s: float  # of the database, for one result with its lease
    file_bytes: float
    result_bytes: float


def model(cost: Constants, *, a_day: int = WANTED_A_DAY) -> dict[str, float]:
    """What so many photographs a day need.

    Examples
    --------
    >>> cost = Constants(worker_s=0.7, keep_s=0.01, file_bytes=4e6, result_bytes=1e5)
    >>> need = model(cost, a_day=86_400)
    >>> need["workers"], round(need["database_share"], 3), round(need["network_mbit_s"], 1)
    (1.0, 0.01, 32.8)
    """
    rate = a_day / DAY_S
    return {
        "workers": float(math.ceil(rate * cost.worker_s / BUSY_SHARE)),
        "database_share": rate * cost.keep_s,
        "network_mbit_s": rate * (cost.file_bytes + cost.result_bytes) * 8 / 1e6,
        "disk_gb_a_day": a_day * (cost.file_bytes + cost.result_bytes) / 1e9,
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """What one way of measuring all photographs took."""

    clock_s: float
    processor_s: float
    worker_mb: float  # the most that one process below this one held
    found: list[Done]


def timed(work: list[Work], **how: object) -> Cost:
    """Measure all, with the time that this process and those below it took."""
    before, started = _processor_s(), time.perf_counter()
    found, most_mb = [], 0.0
    for done in results(work, **how):  # type: ignore[arg-type]
        found.append(done)
        most_mb = max(most_mb, _worker_mb())
    clock_s = time.perf_counter() - started
    return Cost(clock_s=clock_s, processor_s=_processor_s() - before, worker_mb=most_mb, found=found)


def _below() -> list[Any]:
    """Processes below this one; with Dask's own library, so that the rest works without it."""
    import psutil

    return psutil.Process().children(recursive=True)  # type: ignore[no-any-return]


def _processor_s() -> float:
    """Processor time of this process and of all below it, those that have ended too."""
    ended = resource.getrusage(resource.RUSAGE_CHILDREN)
    total = time.process_time() + ended.ru_utime + ended.ru_stime
    for one in _below():
        with suppress(Exception):  # it has ended meanwhile
            spent = one.cpu_times()
            total += spent.user + spent.system
    return total


def _worker_mb() -> float:
    held = [0.0]
    for one in _below():
        with suppress(Exception):  # it has ended meanwhile
            held.append(one.memory_info().rss / 1e6)
    return max(held)


@contextmanager
def cluster_of(workers: int) -> Iterator[str]:
    """A Dask cluster of this machine."""
    from distributed import LocalCluster

    with LocalCluster(n_workers=workers, threads_per_worker=1, dashboard_address=None) as cluster:
        yield cluster.scheduler_address


def in_one_thread(work: list[Work]) -> Cost:
    """One worker that is held to one thread, in a process of its own."""
    from multiprocessing import get_context

    os.environ.update(dict.fromkeys(ONE_THREAD, "1"))
    try:
        with get_context("spawn").Pool(1) as pool:
            pool.apply(abs, (1,))  # started, and its start not counted
            return pool.apply(_in_one_thread, (work,))
    finally:
        for name in ONE_THREAD:
            os.environ.pop(name, None)


def _in_one_thread(work: list[Work]) -> Cost:
    import cv2

    cv2.setNumThreads(1)
    if hasattr(os, "sched_setaffinity"):  # measuring has threads of its own
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    return timed(work)


def on_dask(work: list[Work], workers: int) -> Cost:
    """On a cluster whose workers have begun already."""
    with cluster_of(workers) as address:
        timed(work[: 2 * workers], cluster=address)
        return timed(work, cluster=address)


def keep_s(folder: Path, url: str | None, count: int = 60) -> float:
    """Seconds to lease and keep a result, over so many."""
    from defectmap.record.intake import Place, add_photograph
    from defectmap.record.jobs import create_job
    from defectmap.record.measuring import measure_job
    from defectmap.record.panels import PanelSpec
    from defectmap.record.store import open_store

    store = open_store(folder / "record", url=url)
    reference = f"many-{time.time_ns()}"
    create_job(store, reference, panels=(PanelSpec(name="bonnet", area_m2=1.5),))
    for number in range(count):
        file = folder / f"{number}.jpg"
        file.write_bytes(f"{reference} {number}".encode())
        add_photograph(store, reference, file, Place(panel="bonnet", stage="washed"))
    started = time.perf_counter()
    measure_job(store, reference, measure=lambda _: PLAIN, workers=1)
    took = time.perf_counter() - started
    store.close()
    return took / count


def main() -> None:
    """Measure, and print."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--photos", type=int, default=40)
    parser.add_argument("--jobs", type=int, nargs="+", default=[2])
    parser.add_argument("--rounds", type=int, default=1)
    parser.add_argument("--cluster", action="store_true")
    parser.add_argument("--record", help="URL of a PostgreSQL database to time; SQLite if not given")
    asked = parser.parse_args()
    ways: dict[str, Callable[[list[Work]], Cost]] = {
        "one worker, one thread": in_one_thread,
        "this process, all its cores": timed,
        **{f"--jobs {jobs}": partial(timed, jobs=jobs) for jobs in asked.jobs},
        **(
            {f"Dask, {jobs} workers": partial(on_dask, workers=jobs) for jobs in asked.jobs}
            if asked.cluster
            else {}
        ),
    }
    samples = sorted((ROOT / "samples/photos").glob("*.jpg"))
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        work = copies(samples, folder, asked.photos)
        alone = compared(ways, work, rounds=asked.rounds)
        kept = keep_s(folder, asked.record)
    size = sum(file.stat().st_size for file in samples) / len(samples)
    cost = Constants(worker_s=alone / len(work), keep_s=kept, file_bytes=size, result_bytes=1.5e5)
    print(f"keeping a result: {1000 * kept:.1f} ms")
    need = model(cost)
    print(f"{WANTED_A_DAY} photographs a day: " + ", ".join(f"{k} {v:.3g}" for k, v in need.items()))


def copies(samples: list[Path], folder: Path, count: int) -> list[Work]:
    """So many files, the samples over and over."""
    work = []
    for number in range(count):
        file = folder / f"{number:04}.jpg"
        shutil.copy(samples[number % len(samples)], file)
        work.append(Work(name=file.name, source=file, px_per_mm=16.0))
    return work


def compared(ways: dict[str, Callable[[list[Work]], Cost]], work: list[Work], *, rounds: int) -> float:
    """Print what each way took; returns the seconds of one worker with one thread."""
    taken: dict[str, list[Cost]] = {name: [] for name in ways}
    for _ in range(rounds):
        for name, way in ways.items():
            taken[name].append(way(work))
            cost = taken[name][-1]
            print(f"  … {name}: {cost.clock_s:.1f} s, {cost.processor_s:.1f} s of processor", flush=True)
    clock = {name: statistics.median(one.clock_s for one in costs) for name, costs in taken.items()}
    spent = {name: statistics.median(one.processor_s for one in costs) for name, costs in taken.items()}
    first = next(iter(ways))
    same = [done.record for done in taken[first][0].found]
    for name, costs in taken.items():
        alike = all([done.record for done in one.found] == same for one in costs)
        print(
            f"{name}: {clock[name]:.1f} s by the clock, {spent[name]:.1f} s of processor, "
            f"{clock[first] / clock[name]:.2f} times one thread, worker at most "
            f"{max(one.worker_mb for one in costs):.0f} MB, {'same figures' if alike else 'OTHER FIGURES'}"
        )
        pool = name.replace("Dask, ", "--jobs ").removesuffix(" workers")
        if pool != name:
            over = (100 * (took[name] / took[pool] - 1) for took in (clock, spent))
            print("  over {}: {:+.1f} % by the clock, {:+.1f} % of processor".format(pool, *over))
    return clock[first]


if __name__ == "__main__":
    main()
