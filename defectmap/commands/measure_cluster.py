"""The work of `measure` on a Dask cluster: photographs go out as bytes, results come back as they are ready.

Start one with Dask's own commands, `dask scheduler` and `dask worker ADDRESS --nthreads 1 --nworkers N`, each
machine with the same version of this program (`pip install "defectmap[cluster]"`). Workers that die are
replaced by their nanny and their photographs tried again; one that kills worker after worker fails alone.
"""

from __future__ import annotations

import dataclasses
import warnings
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from defectmap.commands.measure_work import KILLED, Done, Work, do_work_alone, failed
from defectmap.errors import DefectmapError, PhotoError
from defectmap.film.reading import is_film
from defectmap.panel.codec import refusal_record
from defectmap.panel.photo.head import read_file
from defectmap.record.workers import keep_freed_memory

Client = Any  # Dask's own, which is not installed everywhere
Future = Any

PATIENCE_S = 20.0  # until the scheduler answers
NO_WORKER_S = 60.0  # without any worker, the work is given up
_AHEAD = 3  # photographs in hand for each worker: one worked at, one sent, one to come


class ClusterError(DefectmapError):
    """The cluster cannot be reached or has no workers."""


def on_cluster(work: Sequence[Work], address: str) -> Iterator[tuple[int, Done]]:
    """Measure on the workers of a Dask scheduler; yields number and result as they come.

    Raises
    ------
    ClusterError
        Dask is not installed, nobody answers at the address, or no worker is left.
    """
    with _client(address) as client:
        yield from _spread(client, work)


def _client(address: str) -> Client:
    try:
        from distributed import Client
    except ModuleNotFoundError as error:
        raise ClusterError('--cluster needs Dask: pip install "defectmap[cluster]".') from error
    try:
        client = Client(address, timeout=PATIENCE_S, set_as_default=False)
        client.wait_for_workers(1, timeout=NO_WORKER_S)
    except (OSError, ValueError, TimeoutError) as error:
        raise ClusterError(
            f"No Dask scheduler with workers answers at {address}; start it, or check the address."
        ) from error
    return client


def _spread(client: Client, work: Sequence[Work]) -> Iterator[tuple[int, Done]]:
    waiting: dict[Future, int] = {}
    suspects: list[int] = []
    left = iter(range(len(work)))
    while True:
        size = _AHEAD * max(1, sum(client.nthreads().values()))
        while len(waiting) < size and (number := next(left, None)) is not None:
            sent = _with_bytes(work[number])
            if isinstance(sent, Done):
                yield number, sent
            else:
                waiting[_submit(client, sent)] = number
        if not waiting:
            break
        for future in _ended(client, list(waiting)):
            number = waiting.pop(future)
            if future.status == "finished":
                yield number, future.result()
            else:
                suspects.append(number)
            future.release()
    for number in suspects:  # they, or only a neighbour on the same worker, killed it: each by itself now
        yield number, _alone(client, work[number])


def _submit(client: Client, work: Work) -> Future:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # about large arguments: scattered bytes would die with their worker
        return client.submit(_work_with_one_thread, work, pure=False)


def _work_with_one_thread(work: Work) -> Done:
    import cv2

    cv2.setNumThreads(1)
    keep_freed_memory()
    return do_work_alone(work)


def _alone(client: Client, work: Work) -> Done:
    sent = _with_bytes(work)
    if isinstance(sent, Done):
        return sent
    future = _submit(client, sent)
    _ended(client, [future])
    return future.result() if future.status == "finished" else failed(work, KILLED)


def _ended(client: Client, futures: list[Future]) -> list[Future]:
    """Those that have ended, at least one; workers that are being started anew are waited for.

    Raises
    ------
    ClusterError
        The cluster has had no worker for `NO_WORKER_S`.
    """
    from distributed import wait

    while True:
        try:
            with client.as_current():
                done = wait(futures, timeout=NO_WORKER_S, return_when="FIRST_COMPLETED").done
            return sorted(done, key=str)
        except TimeoutError:
            _wait_for_workers(client)


def _wait_for_workers(client: Client) -> None:
    try:
        client.wait_for_workers(1, timeout=NO_WORKER_S)
    except TimeoutError:
        raise ClusterError("The cluster has no worker left; start some, then run this again.") from None


def _with_bytes(work: Work) -> Work | Done:
    """The same work with the photograph's bytes in it; a refusal where they cannot be read here."""
    if not isinstance(work.source, Path) or is_film(work.source):
        return work  # a film is read frame by frame: its folder must be one that the workers see too
    try:
        return dataclasses.replace(work, source=read_file(work.source, name=work.name)[0])
    except PhotoError as error:
        return Done(record=refusal_record(work.name, str(error)))
