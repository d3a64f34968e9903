#!/usr/bin/env python3
"""Time a job of 40 panels x 3 spots x 3 stages: adding, measuring (by a stand-in), opening and status.

    python benchmarks/job_status.py [--database URL] [--marks N]

The photographs are small files and the measuring function is a stand-in, so that only the record is timed;
the stored results are as large as real ones (`--marks` lines of 30 points each). Status is timed inside
this process (opening the record and looking at the whole job) and as a fresh process (`defectmap job
status`). Fails where either takes 1 s or longer, or where the job is not all there.
"""

from __future__ import annotations

import argparse
import os
import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from defectmap.record.intake import Place, add_photograph
from defectmap.record.jobs import create_job
from defectmap.record.measuring import PhotoRequest, measure_job
from defectmap.record.overview import overview
from defectmap.record.panels import PanelSpec
from defectmap.record.store import open_store
from defectmap.record.verifying import verify

PANELS, SPOTS, STAGES = 40, 3, ("decontaminated", "corrected", "wiped")
PHOTO_BYTES = 20_000
LIMIT_S = 1.0
POINTS = 30


def result(request: PhotoRequest, marks: int) -> dict[str, Any]:
    """A result of a real one's size."""
    rng = random.Random(request.sha256)
    lines = [
        {
            "kind": "swirl",
            "polarity": "bright",
            "length_mm": round(rng.uniform(1, 9), 3),
            "width_mm": 0.05,
            "contrast": 0.4,
            "points": [
                [round(rng.uniform(0, 4000), 2), round(rng.uniform(0, 3000), 2)] for _ in range(POINTS)
            ],
        }
        for _ in range(marks)
    ]
    return {
        "schema": 1,
        "photo": {"name": request.name, "sha256": request.sha256},
        "scale": {"px_per_mm": 20.0, "source": "typed"},
        "marks": lines,
        "density_mm_per_cm2": {"swirl": 10.0, "scratch": 1.0, "all": 11.0},
        "longest_scratch_mm": 30.0,
        "haze": 0.05,
        "score": 70.0,
        "warnings": [],
        "refused": None,
    }


def fill(folder: Path, url: str | None, marks: int) -> None:
    """Create, add, measure; print the times."""
    rng = random.Random(1)
    store = open_store(folder, url=url)
    names = [f"panel {number:02d}" for number in range(PANELS)]
    create_job(store, "bench", panels=[PanelSpec(name=name, area_m2=1.0) for name in names])
    places = [
        Place(panel=name, stage=stage, spot=str(spot))
        for stage in STAGES
        for name in names
        for spot in range(SPOTS)
    ]
    begun = time.perf_counter()
    for place in places:
        photo = folder / "shot.jpg"
        photo.write_bytes(rng.randbytes(PHOTO_BYTES))
        add_photograph(store, "bench", photo, place)
    added = time.perf_counter()
    measure_job(store, "bench", workers=1, measure=lambda request: result(request, marks))
    measured = time.perf_counter()
    verified = verify(store)
    done = time.perf_counter()
    assert verified.findings == (), verified.findings
    print(
        f"added {len(places)} photographs in {added - begun:.2f} s "
        f"({(added - begun) / len(places) * 1e3:.1f} ms each)"
    )
    print(f"kept {len(places)} results of {marks} marks in {measured - added:.2f} s")
    print(f"verified in {done - measured:.2f} s")
    store.close()


def cpu_of_children() -> float:
    """Processor time that finished child processes have used, in s."""
    times = os.times()
    return times.children_user + times.children_system


def main() -> int:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--database", help="PostgreSQL URL of an empty database; SQLite if not given")
    parser.add_argument("--marks", type=int, default=500)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        fill(folder, options.database, options.marks)
        times = []
        for _ in range(5):
            begun = time.perf_counter()
            store = open_store(folder, url=options.database)
            look = overview(store, "bench")
            store.close()
            times.append(time.perf_counter() - begun)
            assert (look.photographs, look.unmeasured) == (PANELS * SPOTS * len(STAGES), 0)
            assert all(stage.mean_density == 11.0 for panel in look.panels for stage in panel.stages)
        inside = sorted(times)[2]
        print(
            f"open and status, in this process: {inside * 1e3:.0f} ms (median of 5, slowest "
            f"{max(times) * 1e3:.0f})"
        )
        database = ["--database", options.database] if options.database else []
        command = [sys.executable, "-m", "defectmap", "job", "--record", place, *database, "status", "bench"]
        walls, cpus = [], []
        for _ in range(5):
            begun, used = time.perf_counter(), cpu_of_children()
            shown = subprocess.run(command, check=True, capture_output=True, text=True).stdout
            walls.append(time.perf_counter() - begun)
            cpus.append(cpu_of_children() - used)
            assert "360 photographs, 0 not measured" in shown
        outside = sorted(cpus)[2]
        print(
            f"`defectmap job status`, fresh process: {sorted(walls)[2] * 1e3:.0f} ms, of which "
            f"{outside * 1e3:.0f} ms processor time (median of 5); machine load {os.getloadavg()[0]:.1f}"
        )
        size = sum(path.stat().st_size for path in folder.glob("record.sqlite*")) / 1e6
        print(f"database {size:.1f} MB")
    return 0 if max(inside, outside) < LIMIT_S else 1


if __name__ == "__main__":
    sys.exit(main())
