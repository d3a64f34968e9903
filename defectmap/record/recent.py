"""The last few things that took long to make, by what they were made from; safe from several threads."""

from __future__ import annotations

import threading
from typing import Generic, TypeVar

T = TypeVar("T")


class Recent(Generic[T]):
    """Keeps the last `most` values that were used.

    Examples
    --------
    >>> kept = Recent[int](2)
    >>> for key in "abc":
    ...     kept.put(key, ord(key))
    >>> kept.get("a"), kept.get("c")
    (None, 99)
    """

    def __init__(self, most: int) -> None:
        """Start empty."""
        self._most = most
        self._values: dict[str, T] = {}
        self._lock = threading.Lock()

    def get(self, key: str) -> T | None:
        """The value of that key; None where it is not, or no longer, kept."""
        with self._lock:
            if key not in self._values:
                return None
            self._values[key] = self._values.pop(key)  # the last used stands last
            return self._values[key]

    def put(self, key: str, value: T) -> None:
        """Keep a value; the one that was used longest ago goes where there are too many."""
        with self._lock:
            self._values[key] = value
            while len(self._values) > self._most:
                del self._values[next(iter(self._values))]

    def clear(self) -> None:
        """Forget all."""
        with self._lock:
            self._values.clear()
