"""How many photographs a day: measured on this machine, and what follows for many.

    python benchmarks/many.py [--photos 40] [--jobs 1 2] [--cluster] [--record URL]

A folder of copies of the sample photographs is measured by one worker held to one thread, by this process
with all its cores, by 1, 2 and more worker processes, and with `--cluster` by a Dask cluster of as many
workers on this machine. Then the time to keep a result is taken, and a model says what so many photographs a
day need.
"""

from __future__ import annotations

import argparse
import math
import os
import shutil
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from defectmap.commands.measure_many import ONE_THREAD, results
from defectmap.commands.measure_work import Done, Work

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


def timed(work: list[Work], **how: object) -> tuple[float, list[Done]]:
    """Seconds for all, and the results."""
    started = time.perf_counter()
    found = list(results(work, **how))  # type: ignore[arg-type]
    return time.perf_counter() - started, found


@contextmanager
def cluster_of(workers: int) -> Iterator[str]:
    """A Dask cluster of this machine."""
    from distributed import LocalCluster

    with LocalCluster(n_workers=workers, threads_per_worker=1, dashboard_address=None) as cluster:
        yield cluster.scheduler_address


def one_thread_s(work: list[Work]) -> float:
    """Seconds of one worker that is held to one thread, in a process of its own."""
    from multiprocessing import get_context

    os.environ.update(dict.fromkeys(ONE_THREAD, "1"))
    try:
        with get_context("spawn").Pool(1) as pool:
            pool.apply(abs, (1,))  # started, and its start not counted
            return float(pool.apply(_in_one_thread, (work,)))
    finally:
        for name in ONE_THREAD:
            os.environ.pop(name, None)


def _in_one_thread(work: list[Work]) -> float:
    import cv2

    cv2.setNumThreads(1)
    return timed(work)[0]


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
    parser.add_argument("--jobs", type=int, nargs="+", default=[1, 2])
    parser.add_argument("--cluster", action="store_true")
    parser.add_argument("--record", help="URL of a PostgreSQL database to time; SQLite if not given")
    asked = parser.parse_args()
    samples = sorted((ROOT / "samples/photos").glob("*.jpg"))
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        work = []
        for number in range(asked.photos):
            file = folder / f"{number:04}.jpg"
            shutil.copy(samples[number % len(samples)], file)
            work.append(Work(name=file.name, source=file, px_per_mm=16.0))
        alone = one_thread_s(work)
        print(f"one worker, one thread: {alone:.1f} s for {len(work)}, {alone / len(work):.2f} s each")
        here, expected = timed(work)
        print(f"this process, all its cores: {here:.1f} s")
        for jobs in asked.jobs:
            if jobs > 1:
                took, found = timed(work, jobs=jobs)
                same = [done.record for done in found] == [done.record for done in expected]
                print(
                    f"--jobs {jobs}: {took:.1f} s, {alone / took:.2f} times one thread; same figures: {same}"
                )
            if asked.cluster:
                with cluster_of(jobs) as address:
                    timed(work[: 2 * jobs], cluster=address)  # workers have started
                    took, _ = timed(work, cluster=address)
                print(f"Dask, {jobs} workers: {took:.1f} s, {alone / took:.2f} times one thread")
        kept = keep_s(folder, asked.record)
        size = sum(file.stat().st_size for file in samples) / len(samples)
        cost = Constants(worker_s=alone / len(work), keep_s=kept, file_bytes=size, result_bytes=1.5e5)
        print(f"keeping a result: {1000 * kept:.1f} ms")
        need = model(cost)
        print(f"{WANTED_A_DAY} photographs a day: " + ", ".join(f"{k} {v:.3g}" for k, v in need.items()))


if __name__ == "__main__":
    main()
