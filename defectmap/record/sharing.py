"""The photographs of a run shared out: to the processes of this computer, and among several bays."""

from __future__ import annotations

import os
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from typing import Generic, TypeVar

from defectmap.errors import JobError
from defectmap.record.leases import Holder, Leased
from defectmap.record.store import Store
from defectmap.record.workers import worker_pool

Request = TypeVar("Request")
Outcome = TypeVar("Outcome")

LOOK_AGAIN_S = 1.0  # while other runs hold what is left


class Claims(Generic[Request]):
    """The photographs of a run that are left, leased one by one, as other runs may be at the same job."""

    def __init__(self, store: Store, requests: Sequence[tuple[Request, Leased]]) -> None:
        """Begin with all of them left; each with what is leased of it."""
        self.holder = Holder(store=store)
        self.left = deque(requests)

    def take(self, most: int) -> Iterator[tuple[Request, Leased, bool]]:
        """Up to `most` that are ours now, and on the way those that others have measured (False)."""
        for _ in range(len(self.left)):
            if most <= 0:
                return
            request, item = self.left.popleft()
            state = self.holder.take(item)
            if state == "elsewhere":
                self.left.append((request, item))
            else:
                most -= state == "taken"
                yield request, item, state == "taken"


def shared_results(
    claims: Claims[Request], measure: Callable[[Request], Outcome], workers: int
) -> Iterator[tuple[Request, Outcome | None]]:
    """Measure what is left, in this process or in several; None is what another run has measured meanwhile.

    Parameters
    ----------
    measure : callable
        Never raises; with several workers it must be importable by name.
    workers : int
        Processes; 0 for one a core, 1 for this one.

    Raises
    ------
    JobError
        A worker process died.
    """
    count = min(workers if workers > 0 else os.cpu_count() or 1, max(1, len(claims.left)))
    with claims.holder.at_work():
        if count == 1:
            yield from _one_by_one(claims, measure)
            return
        with worker_pool(count) as pool:
            try:
                yield from _windowed(pool, claims, measure, size=2 * count)
            except BrokenProcessPool as error:
                raise JobError(
                    "A measuring process died, usually because memory ran out; what was finished is kept. "
                    "Run it again with fewer workers."
                ) from error


def _one_by_one(
    claims: Claims[Request], measure: Callable[[Request], Outcome]
) -> Iterator[tuple[Request, Outcome | None]]:
    while claims.left:
        waited = True
        for request, item, ours in claims.take(1):
            waited = False
            yield request, measure(request) if ours else None
            claims.holder.give_back(item)
        if waited:
            time.sleep(LOOK_AGAIN_S)


def _windowed(
    pool: ProcessPoolExecutor, claims: Claims[Request], measure: Callable[[Request], Outcome], *, size: int
) -> Iterator[tuple[Request, Outcome | None]]:
    """Keep only so many in work: results are large, and thousands of photographs would fill the memory."""
    waiting: dict[Future[Outcome], tuple[Request, Leased]] = {}
    while claims.left or waiting:
        for request, item, ours in claims.take(size - len(waiting)):
            if ours:
                waiting[pool.submit(measure, request)] = request, item
            else:
                yield request, None
        if not waiting:
            time.sleep(LOOK_AGAIN_S)  # others hold all that are left: until they have measured them, or died
            continue
        done, _ = wait(waiting, return_when=FIRST_COMPLETED)
        for future in done:
            request, item = waiting.pop(future)
            yield request, future.result()
            claims.holder.give_back(item)
