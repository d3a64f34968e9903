"""What a worker process does whatever it works at."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

import defectmap

FAULTS = """
import resource, sys
import numpy as np
from defectmap.record.workers import keep_freed_memory
if sys.argv[1] == "kept":
    keep_freed_memory()
np.ones(1_000_000)
before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
for _ in range(50):
    np.ones(1_000_000)
print(resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="of glibc's allocator")
def test_a_worker_does_not_map_every_array_anew() -> None:
    """As Dask starts it, 50 arrays of 8 MB are 100,000 pages that the system clears and maps."""
    root = str(Path(defectmap.__file__).parents[1])
    environment = {**os.environ, "PYTHONPATH": root, "MALLOC_TRIM_THRESHOLD_": "65536"}
    faults = {
        how: int(
            subprocess.run(
                [sys.executable, "-c", FAULTS, how],
                env=environment,
                capture_output=True,
                check=True,
                text=True,
            ).stdout
        )
        for how in ("kept", "handed back")
    }
    if faults["handed back"] < 1000:
        pytest.skip("this C library does as it likes")
    assert faults["kept"] < faults["handed back"] / 20
