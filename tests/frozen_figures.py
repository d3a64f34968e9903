"""Figures of two shipped samples, frozen with the versions that gave them.

python -m tests.frozen_figures        freeze them anew, after raising a version in defectmap/versions.py
"""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

from defectmap.comparison.compare import Shot, compare_shots
from defectmap.comparison.contract import comparison_record
from defectmap.panel.codec import measurement_record
from defectmap.panel.measure import measure
from defectmap.panel.photo.photograph import load
from defectmap.versions import COMPARING, MEASURING

FILE = Path(__file__).parent / "data" / "frozen_figures.json"
PHOTOS = Path(__file__).parents[1] / "samples" / "photos"
PX_PER_MM = 16.0
SIDES = {"before": "roof-before", "after": "roof-after"}
OF_PHOTOGRAPH = (
    "density_mm_per_cm2",
    "strength_mm_per_cm2",
    "longest_scratch_mm",
    "haze",
    "score",
    "detection_limit",
    "zone",
    "rings",
)
OF_PAIR = ("comparable", "density_mm_per_cm2", "longest_scratch_mm", "haze", "score")


@cache
def shots() -> dict[str, Shot]:
    """Both samples, measured once a test run."""
    photos = {side: load(PHOTOS / f"{name}.jpg") for side, name in SIDES.items()}
    return {
        side: Shot(photo=photo, measured=measure(photo, px_per_mm=PX_PER_MM))
        for side, photo in photos.items()
    }


def measured() -> dict[str, Any]:
    """Figures of each photograph."""
    found = {}
    for side, shot in shots().items():
        record = measurement_record(shot.measured, with_points=False)
        found[SIDES[side]] = {key: record[key] for key in OF_PHOTOGRAPH} | {"marks": len(record["marks"])}
    return found


def compared() -> dict[str, Any]:
    """Figures of the pair."""
    record = comparison_record(compare_shots([shots()["before"]], [shots()["after"]]))
    return {key: record[key] for key in OF_PAIR}


def main() -> None:
    """Write the figures of today."""
    frozen = {"measuring": MEASURING, "comparing": COMPARING, "photographs": measured(), "pair": compared()}
    FILE.write_text(json.dumps(frozen, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
