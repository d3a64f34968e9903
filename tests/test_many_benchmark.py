"""The model of `benchmarks/many.py`."""

from __future__ import annotations

import doctest
from pathlib import Path

import pytest

from benchmarks import many


def test_its_examples_hold() -> None:
    assert doctest.testmod(many).failed == 0


def test_a_day_of_100_000_is_what_the_document_says() -> None:
    cost = many.Constants(worker_s=0.7, keep_s=0.01, file_bytes=4e6, result_bytes=1.5e5)
    need = many.model(cost)
    assert need["workers"] == 2
    assert need["network_mbit_s"] == pytest.approx(38, abs=1)
    assert need["disk_gb_a_day"] == pytest.approx(415)


def test_keeping_a_result_is_timed(tmp_path: Path) -> None:
    assert 0 < many.keep_s(tmp_path, None, count=3) < 5
