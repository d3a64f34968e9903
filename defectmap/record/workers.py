"""Worker processes: how a pool of them is made, and what each does whatever it works at."""

from __future__ import annotations

import ctypes
import multiprocessing
import os
import signal
import threading
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager

# mallopt(3) of glibc
_TRIM_THRESHOLD, _MMAP_THRESHOLD = -1, -3
KEPT_ARRAY_BYTES = 32 * 2**20  # the most that glibc takes, and where it goes by itself if nobody interferes
KEPT_FREE_BYTES = 2 * KEPT_ARRAY_BYTES  # as glibc has it then


# A worker holds one core: libraries that would take all of them only get in each other's way
ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "OPENCV_FOR_THREADS_NUM")


@contextmanager
def worker_pool(count: int) -> Iterator[ProcessPoolExecutor]:
    """So many worker processes while the block runs; at its end no work is begun any more."""
    before = {name: os.environ.get(name) for name in ONE_THREAD}
    os.environ.update(dict.fromkeys(ONE_THREAD, "1"))  # read by the libraries when a worker starts
    # Fresh processes (spawn) behave alike on every system and inherit nothing, no database connection either.
    spawn = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(count, mp_context=spawn, initializer=start_worker)
    try:
        yield pool
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


def start_worker() -> None:
    """What a worker process of a pool does first."""
    import cv2

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl+C is for the program that hands out the work
    cv2.setNumThreads(1)
    end_with_parent()
    keep_freed_memory()


def end_with_parent() -> None:
    """End this worker when the program that started it is gone, else a killed run leaves workers behind."""
    parent = multiprocessing.parent_process()

    def wait_for_it() -> None:
        if parent is not None:
            parent.join()
            os._exit(1)

    threading.Thread(target=wait_for_it, daemon=True).start()


def keep_freed_memory() -> None:
    """Let this process keep freed arrays of a few MB for the next, where the system's C library can be told.

    Dask starts its workers with `MALLOC_TRIM_THRESHOLD_`, which hands every freed array back to the system,
    to be cleared and mapped again: measured, a third of a worker's time (8 of 22 s for ten photographs).
    """
    try:
        mallopt = ctypes.CDLL(None).mallopt
    except (AttributeError, OSError, TypeError):
        return  # no glibc
    mallopt(_MMAP_THRESHOLD, KEPT_ARRAY_BYTES)
    mallopt(_TRIM_THRESHOLD, KEPT_FREE_BYTES)
