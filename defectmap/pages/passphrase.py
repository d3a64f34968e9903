"""The passphrase for opening the pages to the shop's network: kept as a hash, and what it lets in.

Hash: scrypt (RFC 7914) from Python's hashlib, with a random salt. Whoever gave the passphrase gets a pass, a
cookie with an end date under a keyed hash (HMAC, RFC 2104); a new passphrase makes all of them void.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
from collections.abc import Mapping
from typing import Any

from defectmap.errors import DefectmapError

SETTING = "network passphrase"
SHORTEST = 10
# 2^15 · 8 · 128 bytes = 32 MiB and some tenths of a second a try.
COST, BLOCK, PARALLEL = 2**15, 8, 1
MEMORY_BYTES = 64 * 2**20
PASS_S = 30 * 24 * 3600  # a phone is let in for a month
LOCAL_ADDRESSES = ("localhost", "127.0.0.1", "::1")


class PassphraseError(DefectmapError):
    """The passphrase is too short, wrong, or was tried too often."""


def hashed(passphrase: str, *, cost: int = COST) -> dict[str, Any]:
    """What is kept of a passphrase.

    Raises
    ------
    PassphraseError
        It is shorter than `SHORTEST` characters.
    """
    if len(passphrase) < SHORTEST:
        raise PassphraseError(f"A passphrase has at least {SHORTEST} characters; several words are best.")
    salt = secrets.token_bytes(16)
    digest = _scrypt(passphrase, salt, cost, BLOCK, PARALLEL)
    return {
        "how": "scrypt",
        "cost": cost,
        "block": BLOCK,
        "parallel": PARALLEL,
        "salt": salt.hex(),
        "hash": digest.hex(),
    }


def fits(passphrase: str, kept: Mapping[str, Any]) -> bool:
    """Whether it is the passphrase that was kept."""
    words = passphrase.encode("utf-8", errors="replace").decode()
    found = _scrypt(words, bytes.fromhex(kept["salt"]), kept["cost"], kept["block"], kept["parallel"])
    return hmac.compare_digest(found, bytes.fromhex(kept["hash"]))


def is_open(address: str | None) -> bool:
    """Whether a server bound to this address can be reached from other computers; unset means all of them."""
    return address is None or address.strip().lower() not in LOCAL_ADDRESSES


def make_pass(kept: Mapping[str, Any], *, now_s: float) -> str:
    """A pass for whoever gave the passphrase.

    Parameters
    ----------
    kept : mapping
        What is kept of the passphrase; its hash, which never leaves the record, is the key.
    now_s : float
        Seconds since 1970.
    """
    words = f"{int(now_s + PASS_S)}.{secrets.token_hex(8)}"
    return f"{words}.{_mac(words, kept)}"


def is_pass(cookie: str, kept: Mapping[str, Any], *, now_s: float) -> bool:
    """Whether a pass was made for this passphrase and has not run out."""
    words, _, mac = cookie.rpartition(".")
    if not words.isascii() or not mac.isascii() or not hmac.compare_digest(mac, _mac(words, kept)):
        return False
    return int(words.partition(".")[0]) > now_s


def _mac(words: str, kept: Mapping[str, Any]) -> str:
    key = hashlib.sha256(b"defectmap pass" + bytes.fromhex(kept["hash"])).digest()
    return hmac.new(key, words.encode(), "sha256").hexdigest()


def _scrypt(passphrase: str, salt: bytes, cost: int, block: int, parallel: int) -> bytes:
    return hashlib.scrypt(
        passphrase.encode("utf-8"), salt=salt, n=cost, r=block, p=parallel, maxmem=MEMORY_BYTES, dklen=32
    )
