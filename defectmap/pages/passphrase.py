"""The passphrase for opening the pages to the shop's network: kept as a hash, and only so many tries.

Hash: scrypt (RFC 7914) from Python's hashlib, with a random salt. Tries are counted for everybody together,
as whoever guesses can open any number of sessions.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from defectmap.errors import DefectmapError

SETTING = "network passphrase"
SHORTEST = 10
# 2^15 · 8 · 128 bytes = 32 MiB and some tenths of a second a try.
COST, BLOCK, PARALLEL = 2**15, 8, 1
MEMORY_BYTES = 64 * 2**20
FREE_TRIES, PAUSE_S, LONGEST_PAUSE_S = 5, 30.0, 3600.0
LOCAL_ADDRESSES = ("localhost", "127.0.0.1", "::1")


class PassphraseError(DefectmapError):
    """The passphrase is too short, wrong, or was tried too often."""


def hashed(
    passphrase: str,
    *,
    salt: bytes | None = None,
    cost: int = COST,
    block: int = BLOCK,
    parallel: int = PARALLEL,
) -> dict[str, Any]:
    """What is kept of a passphrase.

    Raises
    ------
    PassphraseError
        It is shorter than `SHORTEST` characters.
    """
    if len(passphrase) < SHORTEST:
        raise PassphraseError(f"A passphrase has at least {SHORTEST} characters; several words are best.")
    salt = secrets.token_bytes(16) if salt is None else salt
    digest = _scrypt(passphrase, salt, cost, block, parallel)
    return {
        "how": "scrypt",
        "cost": cost,
        "block": block,
        "parallel": parallel,
        "salt": salt.hex(),
        "hash": digest.hex(),
    }


def fits(passphrase: str, kept: Mapping[str, Any]) -> bool:
    """Whether it is the passphrase that was kept."""
    found = _scrypt(passphrase, bytes.fromhex(kept["salt"]), kept["cost"], kept["block"], kept["parallel"])
    return hmac.compare_digest(found, bytes.fromhex(kept["hash"]))


def is_open(address: str | None) -> bool:
    """Whether a server bound to this address can be reached from other computers; unset means all of them."""
    return address is None or address.strip().lower() not in LOCAL_ADDRESSES


@dataclass(slots=True)
class Tries:
    """Wrong tries so far; after a few, a pause that doubles with each further one."""

    clock: Callable[[], float] = time.monotonic
    wrong: int = 0
    blocked_until: float = 0.0
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def wait_s(self) -> float:
        """Seconds until the next try is taken; 0 if now."""
        return max(0.0, self.blocked_until - self.clock())

    def attempt(self, passphrase: str, kept: Mapping[str, Any]) -> bool:
        """Try a passphrase.

        Raises
        ------
        PassphraseError
            There were too many wrong ones; it says how long to wait.
        """
        with self._lock:
            wait = self.wait_s()
            if wait > 0:
                raise PassphraseError(f"Too many wrong tries; wait {wait:.0f} seconds, then try again.")
            if fits(passphrase, kept):
                self.wrong = 0
                return True
            self.wrong += 1
            if self.wrong >= FREE_TRIES:
                pause = min(PAUSE_S * 2.0 ** (self.wrong - FREE_TRIES), LONGEST_PAUSE_S)
                self.blocked_until = self.clock() + pause
            return False


def _scrypt(passphrase: str, salt: bytes, cost: int, block: int, parallel: int) -> bytes:
    return hashlib.scrypt(
        passphrase.encode("utf-8"), salt=salt, n=cost, r=block, p=parallel, maxmem=MEMORY_BYTES, dklen=32
    )
