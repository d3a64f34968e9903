"""Damaged and hostile files through the doors of photographs and films; 20,000 a seed before a release."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


@pytest.mark.skipif(not hasattr(os, "fork"), reason="cases run in forked processes")
@pytest.mark.parametrize(("seed", "what", "count"), [(1, "cases", 200), (4, "films", 20)])
def test_nothing_is_found(seed: int, what: str, count: int, tmp_path: Path) -> None:
    wanted = ["--cases", str(count)] if what == "cases" else ["--cases", "0", "--films", str(count)]
    command = [sys.executable, str(ROOT / "benchmarks/fuzz.py"), *wanted, "--seed", str(seed)]
    done = subprocess.run(command, capture_output=True, text=True, cwd=tmp_path, timeout=300, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert f"{count} cases" in done.stdout
