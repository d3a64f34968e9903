"""Versions of the measuring and of the comparing itself, apart from the version of the program.

Raise one with every change to any figure of any photograph or pair; `tests/test_versions.py` notices. Results
that carry another number are shown as old, are never compared with new ones, and are made again on request.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

MEASURING = 11
COMPARING = 17


def is_old(settings: Mapping[str, Any]) -> bool:
    """Whether a result with these settings was measured (or compared) in an earlier way.

    Examples
    --------
    >>> is_old({"measuring": MEASURING}), is_old({"scale": None})
    (False, True)
    """
    return settings.get("measuring") != MEASURING or settings.get("comparing", COMPARING) != COMPARING
