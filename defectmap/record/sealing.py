"""Records as JSON in one spelling, its hash, and results packed so that a later edit is noticed.

A seal ties a result to the photograph, the version and the settings that made it. It finds accidents,
careless edits and mixed-up rows; it is no signature, as whoever can write to the record can also seal anew.
"""

from __future__ import annotations

import hashlib
import json
import math
import zlib
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

MAX_RESULT_BYTES = 256 * 2**20  # unpacked; a stored result is a few MB at most


def canonical(value: Any) -> str:
    """JSON with sorted keys, no spaces, and no NaN.

    Raises
    ------
    ValueError
        The value holds NaN or infinity, or something that JSON has no word for.

    Examples
    --------
    >>> canonical({"b": 1.0, "a": [None, "µ"]})
    '{"a":[null,"µ"],"b":1.0}'
    """
    try:
        return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
    except TypeError as error:
        raise ValueError(f"not storable as JSON: {error}") from error


def strict_json(words: str) -> Any:
    """What JSON says; no NaN or infinity, and nothing nested without end.

    Raises
    ------
    ValueError
        It is no such JSON.

    Examples
    --------
    >>> strict_json('[1, NaN]')
    Traceback (most recent call last):
    ValueError: NaN is no number of JSON
    """
    try:
        return json.loads(words, parse_constant=_no_number)
    except RecursionError:
        raise ValueError("it is nested too deeply") from None


def _no_number(words: str) -> float:
    raise ValueError(f"{words} is no number of JSON")


def plain(value: Any) -> Any:
    """A record as JSON can hold it; what is not finite becomes None."""
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, set | frozenset):
        return sorted(plain(item) for item in value)
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return str(value) if isinstance(value, Decimal | date | Path) else value


def sha256_of_text(words: str) -> str:
    """SHA-256 of the UTF-8 bytes, in hexadecimal."""
    return hashlib.sha256(words.encode()).hexdigest()


def seal_of(result: str, *, of: tuple[str, ...], program_version: str, settings: str) -> str:
    """Hash of a result together with the photographs, the version and the settings that made it.

    Parameters
    ----------
    result, settings : str
        Canonical JSON.
    of : tuple of str
        SHA-256 of the photographs, in order.
    program_version : str
        Version that made the result.
    """
    return sha256_of_text(canonical([result, list(of), program_version, settings]))


def pack(result: str) -> bytes:
    """Compress a canonical result for its row."""
    return zlib.compress(result.encode(), level=6)


def unpack(body: bytes) -> str:
    """Undo `pack`.

    Raises
    ------
    ValueError
        The bytes are not a packed result, or would unpack to more than `MAX_RESULT_BYTES`.
    """
    inflate = zlib.decompressobj()
    try:
        data = inflate.decompress(body, MAX_RESULT_BYTES)
        if not inflate.eof:
            raise ValueError("the packed result is cut short or too large")
        return data.decode()
    except (zlib.error, UnicodeDecodeError) as error:
        raise ValueError(f"the packed result is damaged: {error}") from error
