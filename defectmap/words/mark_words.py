"""What a mark of each kind is called: one term a kind, wherever it is named in English."""

from __future__ import annotations

from collections.abc import Mapping

ONE: Mapping[str, str] = {
    "swirl": "swirl mark",
    "scratch": "scratch",
    "trail": "buffer trail",
    "none": "no mark in the paint",
}
MANY: Mapping[str, str] = {"swirl": "swirl marks", "scratch": "scratches", "trail": "buffer trails"}


def is_one(kind: str) -> str:
    """What a mark of that kind is.

    Examples
    --------
    >>> is_one("trail"), is_one("none")
    ('a buffer trail', 'no mark in the paint')
    """
    return ONE[kind] if kind == "none" else f"a {ONE[kind]}"
