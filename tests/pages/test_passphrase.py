from __future__ import annotations

import hashlib

import pytest

from defectmap.pages.passphrase import (
    FREE_TRIES,
    LONGEST_PAUSE_S,
    PassphraseError,
    Tries,
    _scrypt,
    fits,
    hashed,
    is_open,
)

CHEAP = {"cost": 2**4, "block": 8, "parallel": 1}  # the tries' logic does not need a costly hash


def test_the_hash_is_scrypt_as_published() -> None:
    # RFC 7914, section 12, second vector: scrypt("password", "NaCl", N=1024, r=8, p=16, 64 bytes)
    published = (
        "fdbabe1c9d3472007856e7190d01e9fe7c6ad7cbc8237830e77376634b373162"
        "2eaf30d92e22a3886ff109279d9830dac727afb94a83ee6d8360cbdfa2cc0640"
    )
    assert _scrypt("password", b"NaCl", 1024, 8, 16).hex() == published[:64]
    whole = hashlib.scrypt(b"password", salt=b"NaCl", n=1024, r=8, p=16, maxmem=2**26, dklen=64)
    assert whole.hex() == published


def test_each_hash_has_its_own_salt_and_fits_only_its_passphrase() -> None:
    one, other = (hashed("a long passphrase", **CHEAP) for _ in range(2))
    assert one["salt"] != other["salt"]
    assert one["hash"] != other["hash"]
    assert fits("a long passphrase", one)
    assert not fits("a long passphrasE", one)


def test_a_short_passphrase_is_refused() -> None:
    with pytest.raises(PassphraseError, match="at least 10 characters"):
        hashed("short")


def test_after_some_wrong_tries_there_is_a_pause_that_doubles() -> None:
    now = [0.0]
    tries = Tries(clock=lambda: now[0])
    kept = hashed("a long passphrase", **CHEAP)
    for _ in range(FREE_TRIES):
        assert not tries.attempt("a wrong passphrase", kept)
    with pytest.raises(PassphraseError, match="wait 30 seconds"):
        tries.attempt("a long passphrase", kept)
    now[0] += 31
    assert not tries.attempt("a wrong passphrase", kept)
    with pytest.raises(PassphraseError, match="wait 60 seconds"):
        tries.attempt("a long passphrase", kept)
    now[0] += 61
    assert tries.attempt("a long passphrase", kept)
    assert tries.wrong == 0


def test_the_pause_has_an_end() -> None:
    now = [0.0]
    tries = Tries(clock=lambda: now[0])
    kept = hashed("a long passphrase", **CHEAP)
    for _ in range(FREE_TRIES + 20):
        tries.attempt("a wrong passphrase", kept)
        assert tries.wait_s() <= LONGEST_PAUSE_S
        now[0] += LONGEST_PAUSE_S + 1


@pytest.mark.parametrize(
    ("address", "expected"),
    [("localhost", False), ("127.0.0.1", False), ("::1", False), ("0.0.0.0", True), (None, True), ("", True)],
)
def test_an_unset_address_counts_as_open(address: str | None, expected: bool) -> None:
    assert is_open(address) is expected
