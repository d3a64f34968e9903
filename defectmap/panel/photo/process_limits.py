"""Limits that a process of a decoder puts on itself; systems that have none go without."""

from __future__ import annotations

import contextlib
import os
from typing import IO

# A decoder gains little from more threads, and each takes address space (a stack, and with some allocators an
# arena), which its limit counts: on a computer of 64 processors nothing would be left for pictures.
THREADS = 2


def environment() -> dict[str, str]:
    """What a decoder's process is started with: few threads, whatever library opens them."""
    few = dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"), "1")
    return {**os.environ, **few, "MALLOC_ARENA_MAX": str(THREADS), "OPENCV_FOR_THREADS_NUM": str(THREADS)}


def own_output() -> IO[bytes]:
    """Where this process answers; what libraries print goes nowhere from now on."""
    out = os.fdopen(os.dup(1), "wb")
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    return out


def limit_memory(more_bytes: int) -> None:
    """Let this process have so much more memory than it holds now, and leave no image when it dies."""
    with contextlib.suppress(ImportError, OSError, ValueError):  # Windows and some systems have no such limit
        import resource

        with open("/proc/self/statm") as status:
            held = int(status.read().split()[0]) * resource.getpagesize()
        resource.setrlimit(resource.RLIMIT_AS, (held + more_bytes, held + more_bytes))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def limit_time(seconds: float) -> None:
    """Let the system end this process after so much more computing: also inside a library that never ends."""
    with contextlib.suppress(ImportError, OSError, ValueError):
        import resource

        used = sum(resource.getrusage(resource.RUSAGE_SELF)[:2])
        _, hard = resource.getrlimit(resource.RLIMIT_CPU)
        resource.setrlimit(resource.RLIMIT_CPU, (int(used + seconds) + 1, hard))
