"""Reads `sentences.toml`: the sentence of each code, one table a subject."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from defectmap.words.remark import Table, Wording

FILE = Path(__file__).with_name("sentences.toml")


def table(subject: str) -> Table:
    """The sentences of a subject by their codes; a `Wording` where page or terminal are told what to do."""
    return {code: one if isinstance(one, str) else Wording(**one) for code, one in _all()[subject].items()}


def words_table(subject: str) -> Mapping[str, str]:
    """The words of a subject by their codes, where every audience reads the same."""
    return dict(_all()[subject])


@cache
def _all() -> Mapping[str, Mapping[str, Any]]:
    return tomllib.loads(FILE.read_text(encoding="utf-8"))
