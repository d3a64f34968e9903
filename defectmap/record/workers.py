"""What a worker process does whatever it works at."""

from __future__ import annotations

import ctypes
import multiprocessing
import os
import threading

# mallopt(3) of glibc
_TRIM_THRESHOLD, _MMAP_THRESHOLD = -1, -3
KEPT_ARRAY_BYTES = 32 * 2**20  # the most that glibc takes, and where it goes by itself if nobody interferes
KEPT_FREE_BYTES = 2 * KEPT_ARRAY_BYTES  # as glibc has it then


def start_worker() -> None:
    """What a worker process of a pool does first."""
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
