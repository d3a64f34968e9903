"""Kill the program at its work, again and again: nothing that was finished is lost, nothing is there twice.

    python benchmarks/kills.py [--kills 200] [--seed 1] [--only adding measuring importing cluster]

A quarter of the kills each: a process that adds and measures photographs; a run whose worker processes
measure (one of them, or the run itself, is killed); a job being imported; workers of a Dask cluster. Each
comes at a random moment. Afterwards the record must verify and hold all that was reported as finished, and
the same command again must bring it to the end: every photograph once, every result once. Exit status 1
where it does not.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import random
import signal
import sys
import tempfile
import time
import warnings
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from sqlalchemy import func, select

from defectmap.commands.measure_many import results
from defectmap.commands.measure_work import Work
from defectmap.errors import AlreadyInRecord
from defectmap.record import model
from defectmap.record.intake import Place, add_photograph, photographs_of
from defectmap.record.jobs import all_jobs, create_job
from defectmap.record.measuring import PhotoRequest, measure_job
from defectmap.record.store import Store, open_store
from defectmap.record.transfer import export_job, import_job
from defectmap.record.verifying import verify
from tests.record import fakes
from tests.record.kept import latest_measurements

PHOTOS = 6
PLACE = Place(panel="bonnet", stage="decontaminated", px_per_mm=20.0)
SPAWN = multiprocessing.get_context("spawn")
FORK = multiprocessing.get_context("fork")
Trial = Callable[[Path, random.Random], int]  # how many were killed in one trial


class Lost(AssertionError):
    """Something was lost, or is there twice."""


def expect(holds: bool, words: str) -> None:
    """Raise where it does not hold."""
    if not holds:
        raise Lost(words)


def slowly(request: PhotoRequest) -> dict[str, object]:
    """A measurement that takes long enough to be killed in."""
    time.sleep(0.03)
    return fakes.measure(request)


def add_and_measure(folder: Path, photos: list[Path], log: Path) -> None:
    """What the child does; the log tells what it was told is finished."""
    store = open_store(folder)
    with log.open("a", buffering=1) as out:
        for photo in photos:
            print(f"added {add_photograph(store, 'J1', photo, PLACE).photograph.name}", file=out)
        measure_job(
            store,
            "J1",
            measure=slowly,
            workers=1,
            progress=lambda _d, _t, what: print(f"measured {what}", file=out),
        )
    store.close()


def measure_with_workers(folder: Path) -> None:
    """A run with two worker processes."""
    store = open_store(folder)
    with suppress(Exception):  # a worker that was killed ends the run with a sentence
        measure_job(store, "J1", measure=slowly, workers=2)
    store.close()


def check(store: Store, photos: int, told: list[str]) -> None:
    """All that was told as finished is there, once, and nothing else."""
    expect(verify(store).sound, "the record does not verify")
    there = photographs_of(store, "J1")
    measured = latest_measurements(store, "J1")
    names = [one.name for one in there]
    expect(len(names) == len(set(names)) <= photos, "a photograph is there twice")
    done = {one.name for one in there if one.id in measured}
    for line in told:
        what, name = line.split()
        expect(name in (names if what == "added" else done), f"{line}, and it is not there")
    with store.reading() as session:
        rows = session.scalar(select(func.count()).select_from(model.Measurement))
    expect(rows == len(done), f"{rows} results for {len(done)} photographs")


def finished(store: Store, photos: int) -> None:
    """The job is whole."""
    check(store, photos, [])
    expect(len(latest_measurements(store, "J1")) == photos, "not all are measured")


def killed(process: Any, after_s: float) -> bool:
    """Kill a process after so long, if it still runs."""
    process.join(after_s)
    if process.exitcode is None:
        process.kill()
    process.join(60)
    return bool(process.exitcode == -signal.SIGKILL)


def adding(folder: Path, rng: random.Random) -> int:
    """A process that adds and measures."""
    photos = [fakes.photo(folder, number, size=1_100_000) for number in range(PHOTOS)]
    store = open_store(folder / "record")
    create_job(store, "J1", panels=fakes.PANELS)
    log = folder / "log"
    process = FORK.Process(target=add_and_measure, args=(folder / "record", photos, log))
    process.start()
    died = killed(process, rng.uniform(0.0, 0.5))
    check(store, PHOTOS, whole_lines(log))
    add_and_measure(folder / "record", photos, folder / "again")
    finished(store, PHOTOS)
    store.close()
    return int(died)


def whole_lines(log: Path) -> list[str]:
    """Lines of a log that were written to their end."""
    return log.read_text().split("\n")[:-1] if log.exists() else []


def measuring(folder: Path, rng: random.Random) -> int:
    """A run with workers: the run or one of its workers dies."""
    store = open_store(folder / "record")
    create_job(store, "J1", panels=fakes.PANELS)
    for number in range(4 * PHOTOS):
        add_photograph(store, "J1", fakes.photo(folder, number), PLACE)
    process = SPAWN.Process(target=measure_with_workers, args=(folder / "record",))
    process.start()
    died = 0
    until = time.monotonic() + 60
    while not latest_measurements(store, "J1") and process.exitcode is None and time.monotonic() < until:
        time.sleep(0.01)
    time.sleep(rng.uniform(0.0, 0.2))
    if rng.random() < 0.5:
        died = int(killed(process, 0.0))
    elif workers := children_of(process.pid or 0):
        with suppress(ProcessLookupError):
            os.kill(rng.choice(workers), signal.SIGKILL)
            died = 1
    process.join(60)
    check(store, 4 * PHOTOS, [])
    measure_job(store, "J1", measure=slowly, workers=1)
    finished(store, 4 * PHOTOS)
    store.close()
    return died


def children_of(pid: int) -> list[int]:
    """Processes that this one started to measure (and not the one that minds their semaphores)."""
    found = []
    with suppress(OSError):
        for task in Path(f"/proc/{pid}/task").iterdir():
            found += [int(child) for child in (task / "children").read_text().split()]
    return [child for child in found if b"spawn_main" in command_of(child)]


def command_of(pid: int) -> bytes:
    """The command line of a process; nothing where it is gone."""
    with suppress(OSError):
        return Path(f"/proc/{pid}/cmdline").read_bytes()
    return b""


def import_again(folder: Path, file: Path) -> None:
    """What the child does."""
    store = open_store(folder)
    with suppress(AlreadyInRecord):
        import_job(store, file)
    store.close()


def importing(folder: Path, rng: random.Random) -> int:
    """A job being imported: afterwards it is there whole, or not at all."""
    source = open_store(folder / "source")
    create_job(source, "J1", panels=fakes.PANELS)
    for number in range(PHOTOS):
        add_photograph(source, "J1", fakes.photo(folder, number, size=1_100_000), PLACE)
    measure_job(source, "J1", measure=fakes.measure, workers=1)
    file = export_job(source, "J1", folder / "j.zip")
    source.close()
    store = open_store(folder / "record")
    process = FORK.Process(target=import_again, args=(folder / "record", file))
    process.start()
    died = killed(process, rng.uniform(0.0, 0.25))
    if all_jobs(store):
        finished(store, PHOTOS)
    import_again(folder / "record", file)
    finished(store, PHOTOS)
    store.close()
    return int(died)


def cluster(folder: Path, rng: random.Random) -> int:
    """Workers of a Dask cluster die while it measures; figures and order are those of one core."""
    from benchmarks.fuzz_files import sound_files

    jpeg = sound_files()["jpeg"]
    work = []
    for number in range(30):
        path = folder / f"{number:02}.jpg"
        path.write_bytes(jpeg if number != 1 else b"no picture at all, but some bytes of words")
        work.append(Work(name=path.name, source=path, px_per_mm=4.8))
    one = [done.record for done in results([*work[:2]])]
    died, found = measured_while_killing(work, rng)
    if len(found) < len(work):  # no worker came back in time, and that was said; what was done is there
        found += measured_while_killing(work[len(found) :], None)[1]
    expect([record["photo"]["name"] for record in found] == [w.name for w in work], "order or number differs")
    for number, record in enumerate(found):
        right = dict(one[1] if number == 1 else one[0])
        right["photo"] = record["photo"]
        expect(same(record, right), f"photograph {number} has other figures")
    return died


def measured_while_killing(work: list[Work], rng: random.Random | None) -> tuple[int, list[dict[str, Any]]]:
    """How many workers were killed, and the records that came, in their order."""
    import distributed

    from defectmap.commands.measure_cluster import ClusterError

    died, found = 0, []
    cluster_of_two = distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None)
    with cluster_of_two as workers, suppress(ClusterError):
        for number, done in enumerate(results(work, cluster=workers.scheduler_address)):
            found.append(done.record)
            if rng and number % 5 == 4:
                time.sleep(rng.uniform(0, 0.3))
                alive = [nanny.pid for nanny in workers.workers.values() if nanny.pid]
                with suppress(ProcessLookupError, IndexError):
                    os.kill(rng.choice(alive), signal.SIGKILL)
                    died += 1
    return died, found


def same(record: dict[str, Any], right: dict[str, Any]) -> bool:
    """The same figures; a refusal names its file."""
    if right["refused"]:
        return bool(record["refused"])
    return record == right


TRIALS: dict[str, Trial] = {
    "adding": adding,
    "measuring": measuring,
    "importing": importing,
    "cluster": cluster,
}


def trials(name: str, kills: int, seed: int) -> Iterator[int]:
    """Kill so many; yields how many each trial killed."""
    rng = random.Random(f"{seed} {name}")
    left = kills
    while left > 0:
        with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
            died = TRIALS[name](Path(folder), rng)
        left -= died
        yield died


def main() -> int:
    """Kill, and count."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", nargs="+", choices=list(TRIALS), default=list(TRIALS))
    asked = parser.parse_args()
    os.environ["PYTHONPATH"] = sys.path[0]  # processes that are started afresh find the tests' stand-ins
    warnings.simplefilter("ignore")
    found = 0
    for name in asked.only:
        counts = Counter[str]()
        started = time.monotonic()
        try:
            for died in trials(name, -(-asked.kills // len(asked.only)), asked.seed):
                counts["trials"] += 1
                counts["kills"] += died
                if counts["trials"] % 10 == 0:
                    print(f"  … {name}: {counts['kills']} kills", flush=True)
        except Lost as error:
            found += 1
            print(f"FINDING, {name}: {error}", flush=True)
        took_s = time.monotonic() - started
        print(f"{name}: {counts['kills']} kills in {counts['trials']} trials, {took_s:.0f} s", flush=True)
    print("Nothing lost, nothing twice." if not found else f"{found} kinds of work lost something.")
    return int(found > 0)


if __name__ == "__main__":
    sys.exit(main())
