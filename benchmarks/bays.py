"""Two writers and four workers at one job on PostgreSQL: no photograph measured twice, none never.

    python benchmarks/bays.py [--photos 2000]

Two processes add photographs while two bays with two worker processes each measure them. The server is one of
this run alone, and needs Debian's package postgresql. Exit status 1 where a count is not exact.
"""

from __future__ import annotations

import argparse
import functools
import multiprocessing
import os
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from defectmap.record.intake import Place, add_photograph, photographs_of
from defectmap.record.jobs import create_job
from defectmap.record.measuring import PhotoRequest, measure_job
from defectmap.record.store import open_store
from defectmap.record.verifying import verify
from tests.conftest import Server
from tests.record import fakes
from tests.record.kept import latest_measurements

PLACE = Place(panel="bonnet", stage="decontaminated", px_per_mm=20.0)
SPAWN = multiprocessing.get_context("spawn")


def logged(request: PhotoRequest, *, log: Path) -> dict[str, object]:
    """In a worker: tells of each photograph that it measures."""
    with log.open("a") as out:
        out.write(f"{request.name}\n")
    return fakes.measure(request)


def writer(folder: Path, url: str, numbers: range) -> None:
    """Add so many photographs."""
    store = open_store(folder / "record", url=url)
    for number in numbers:
        add_photograph(store, "J1", fakes.photo(folder, number, size=300), PLACE)
    store.close()


def bay(folder: Path, url: str, ended: Any) -> None:
    """Measure what is there, again and again, until all has been added."""
    store = open_store(folder / "record", url=url)
    measure = functools.partial(logged, log=folder / "log")
    last = False
    while not last:
        last = ended.is_set()
        measure_job(store, "J1", measure=measure, workers=2)
    store.close()


def counts_of(folder: Path, url: str, photos: int) -> dict[str, int]:
    """Run it, and count; all are 0 but photographs and results."""
    store = open_store(folder / "record", url=url)
    create_job(store, "J1", panels=fakes.PANELS)
    ended = SPAWN.Event()
    halves = range(photos // 2), range(photos // 2, photos)
    writers = [SPAWN.Process(target=writer, args=(folder, url, half)) for half in halves]
    bays = [SPAWN.Process(target=bay, args=(folder, url, ended)) for _ in range(2)]
    for process in (*writers, *bays):
        process.start()
    for process in writers:
        process.join()
    ended.set()
    for process in bays:
        process.join()
    told = Counter((folder / "log").read_text().split())
    found = {
        "photographs": len(photographs_of(store, "J1")),
        "results": len(latest_measurements(store, "J1")),
        "measured twice": sum(count - 1 for count in told.values()),
        "never measured": photos - len(told),
        "processes that failed": sum(process.exitcode != 0 for process in (*writers, *bays)),
        "findings of verify": len(verify(store).findings),
    }
    store.close()
    return found


def main() -> int:
    """Run, print, and say whether it is exact."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--photos", type=int, default=2000)
    photos = parser.parse_args().photos
    os.environ["PYTHONPATH"] = sys.path[0]  # workers that are started afresh find the stand-ins
    server = Server()
    started = time.monotonic()
    try:
        with tempfile.TemporaryDirectory() as folder:
            found = counts_of(Path(folder), server.new_database(), photos)
    finally:
        server.stop()
    print(
        ", ".join(f"{what} {count}" for what, count in found.items()),
        f"in {time.monotonic() - started:.0f} s",
    )
    exact = list(found.values()) == [photos, photos, 0, 0, 0, 0]
    return 0 if exact else 1


if __name__ == "__main__":
    sys.exit(main())
