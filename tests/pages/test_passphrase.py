from __future__ import annotations

import hashlib

import pytest

from defectmap.pages.passphrase import PassphraseError, _scrypt, fits, hashed, is_open

CHEAP = 2**4  # the tries' logic does not need a costly hash


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
    one, other = (hashed("a long passphrase", cost=CHEAP) for _ in range(2))
    assert one["salt"] != other["salt"]
    assert one["hash"] != other["hash"]
    assert fits("a long passphrase", one)
    assert not fits("a long passphrasE", one)


def test_a_short_passphrase_is_refused() -> None:
    with pytest.raises(PassphraseError, match="at least 10 characters"):
        hashed("short")


@pytest.mark.parametrize(
    ("address", "expected"),
    [("localhost", False), ("127.0.0.1", False), ("::1", False), ("0.0.0.0", True), (None, True), ("", True)],
)
def test_an_unset_address_counts_as_open(address: str | None, expected: bool) -> None:
    assert is_open(address) is expected
