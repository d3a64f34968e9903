"""Many photographs over the cores of one machine, or over a Dask cluster; order and figures as with one.

A photograph that kills its worker is tried once more, alone; if it does so again, it fails and nothing else.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool

from defectmap.commands.measure_work import KILLED, Done, Work, do_work, do_work_alone, failed
from defectmap.record.workers import worker_pool

_AHEAD = 2  # photographs in hand for each worker: none waits, and thousands do not fill the memory


def results(work: Sequence[Work], *, jobs: int = 1, cluster: str | None = None) -> Iterator[Done]:
    """Measure the photographs and hand back each result in order, as soon as those before it are there.

    Parameters
    ----------
    jobs : int
        Worker processes, each with one thread; 0 for one a core. 1 measures in this process, all its cores.
    cluster : str, optional
        Address of a Dask scheduler; its workers measure, and `jobs` says nothing.
    """
    if cluster is not None:
        from defectmap.commands.measure_cluster import on_cluster

        return _in_order(on_cluster(work, cluster))
    count = min(jobs if jobs > 0 else os.cpu_count() or 1, max(1, len(work)))
    if count == 1:
        return map(do_work if len(work) == 1 else do_work_alone, work)
    return _in_order(_in_pool(work, count))


def windowed(
    numbers: Sequence[int], submit: Callable[[int], Future[Done]], *, size: int
) -> Iterator[tuple[int, Future[Done]]]:
    """Keep `size` futures at work; yields the number and the future of each as it ends."""
    left = iter(numbers)
    waiting: dict[Future[Done], int] = {}
    for number in left:
        waiting[submit(number)] = number
        if len(waiting) < size:
            continue
        yield from _ended(waiting)
    while waiting:
        yield from _ended(waiting)


def _ended(waiting: dict[Future[Done], int]) -> Iterator[tuple[int, Future[Done]]]:
    done, _ = wait(waiting, return_when=FIRST_COMPLETED)
    for future in sorted(done, key=waiting.__getitem__):
        yield waiting.pop(future), future


def _in_order(results: Iterator[tuple[int, Done]]) -> Iterator[Done]:
    early: dict[int, Done] = {}
    following = 0
    for number, done in results:
        early[number] = done
        while following in early:
            yield early.pop(following)
            following += 1


def _in_pool(work: Sequence[Work], count: int) -> Iterator[tuple[int, Done]]:
    left: Sequence[int] = range(len(work))
    while left:
        suspects: list[int] = []
        untried: list[int] = []
        with worker_pool(count) as pool:
            for number, future in windowed(left, lambda n: _submit(pool, work[n]), size=_AHEAD * count):
                error = future.exception()
                if error is None:
                    yield number, future.result()
                else:
                    (untried if isinstance(error, _Untried) else suspects).append(number)
        for number in suspects:
            yield number, _alone(work[number])
        left = untried


def _submit(pool: ProcessPoolExecutor, work: Work) -> Future[Done]:
    try:
        return pool.submit(do_work_alone, work)
    except BrokenProcessPool:  # by another photograph
        future: Future[Done] = Future()
        future.set_exception(_Untried())
        return future


class _Untried(Exception):
    """The pool was broken before this photograph was handed in."""


def _alone(work: Work) -> Done:
    with worker_pool(1) as pool:
        try:
            return pool.submit(do_work_alone, work).result()
        except BrokenProcessPool:
            return failed(work, KILLED)
