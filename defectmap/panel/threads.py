"""Two steps at a time, in a process that may have two threads: OpenCV and NumPy run beside the interpreter.

OpenCV's own number of threads decides, so that a worker that is held to one (`cv2.setNumThreads(1)`) is held
here as well: on a computer whose processors are all at work, threads that wait for each other cost a tenth.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

import cv2

One = TypeVar("One")
Other = TypeVar("Other")


def in_pairs(task: Callable[[One], Other], parts: Iterable[One]) -> list[Other]:
    """What `task` makes of each part, in their order."""
    if cv2.getNumThreads() < 2:
        return [task(part) for part in parts]
    with ThreadPoolExecutor(2) as pool:
        return list(pool.map(task, parts))


def both(one: Callable[[], One], other: Callable[[], Other]) -> tuple[One, Other]:
    """What two steps return that need nothing of each other."""
    if cv2.getNumThreads() < 2:
        return one(), other()
    with ThreadPoolExecutor(1) as pool:
        later = pool.submit(other)
        return one(), later.result()
