"""Damaged and hostile files through the photo doors; 20,000 cases a seed are run before a release."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


@pytest.mark.skipif(not hasattr(os, "fork"), reason="cases run in forked processes")
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_nothing_is_found(seed: int, tmp_path: Path) -> None:
    command = [sys.executable, str(ROOT / "benchmarks/fuzz.py"), "--cases", "100", "--seed", str(seed)]
    done = subprocess.run(command, capture_output=True, text=True, cwd=tmp_path, timeout=300, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "100 cases" in done.stdout
