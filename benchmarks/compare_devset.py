"""Compare rendered pairs with exact truth, and the repeatability of rendered repeats.

    python benchmarks/compare_devset.py FOLDER

FOLDER holds `pairs/NAME-before.jpg`, `pairs/NAME-after.jpg` and `repeat/*.jpg`, each with `NAME.truth.json`:
`px_per_mm`, `visible` (pieces with `length_mm` and `points` as x, y) and `groove_mm`. Prints the change
found, its interval, the change of the visible truth inside the same zones, and that of all grooves in the
paint; then every false pair's verdict.
"""

from __future__ import annotations

import argparse
import json
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from defectmap.comparison.compare import Shot, align_shots, compare_shots, measured_shot
from defectmap.comparison.outcome import Comparison
from defectmap.comparison.repeating import repeat_profile
from defectmap.panel.photo.photograph import load
from defectmap.words.comparison_words import REASONS
from defectmap.words.remark import sentence


@dataclass(frozen=True)
class Photo:
    """A rendered photograph and its truth."""

    shot: Shot
    truth: dict[str, Any]
    seconds: float


def read(path: Path) -> Photo:
    """Measure a photograph at its true scale."""
    truth = json.loads(path.with_suffix(".truth.json").read_text())
    start = time.perf_counter()
    shot = measured_shot(load(path), px_per_mm=truth["px_per_mm"])
    return Photo(shot=shot, truth=truth, seconds=time.perf_counter() - start)


def visible_density(photo: Photo) -> float:
    """True visible length inside the photograph's own zone, mm/cm²."""
    zone = photo.shot.measured.zone
    total = 0.0
    for piece in photo.truth["visible"]:
        points = np.clip(np.round(piece["points"]).astype(int), 0, [zone.shape[1] - 1, zone.shape[0] - 1])
        total += piece["length_mm"] * float(zone[points[:, 1], points[:, 0]].mean())
    return total / photo.shot.measured.area_cm2


def percent(after: float, before: float) -> float:
    """Change in percent."""
    return 100 * (after / before - 1)


def print_pair(name: str, before: Photo, after: Photo) -> None:
    """One line of figures, then reasons."""
    start = time.perf_counter()
    found: Comparison = compare_shots([before.shot], [after.shot])
    seconds = time.perf_counter() - start
    visible = percent(visible_density(after), visible_density(before))
    grooves = percent(sum(after.truth["groove_mm"].values()), sum(before.truth["groove_mm"].values()))
    own = percent(after.shot.measured.density.all, before.shot.measured.density.all)
    said = f"{name:10}{found.comparable.verdict:>10}"
    if found.changes:
        change = found.change("density all")
        low, high = change.ci95_percent or (np.nan, np.nan)
        said += f"{change.change_percent:9.1f} ({low:6.1f} to {high:6.1f})"
    said += f"  own zones {own:6.1f}  visible truth {visible:6.1f}  grooves {grooves:6.1f}"
    print(f"{said}  {seconds:.2f} s")
    for reason in found.comparable.reasons:
        print(f"      {reason.topic}, {reason.verdict}: {sentence(reason, REASONS)}")


def main() -> None:
    """Print pairs, false pairs and repeats."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", type=Path)
    folder = parser.parse_args().folder
    photos = {path.stem: read(path) for path in sorted((folder / "pairs").glob("*.jpg"))}
    names = sorted({stem.rsplit("-", 1)[0] for stem in photos})
    for name in names:
        print_pair(name, photos[f"{name}-before"], photos[f"{name}-after"])
    print("false pairs: before of one panel, after of another")
    for name in names:
        for other in names:
            if name != other:
                found = compare_shots([photos[f"{name}-before"].shot], [photos[f"{other}-after"].shot])
                topics = ", ".join(f"{reason.topic} {reason.verdict}" for reason in found.comparable.reasons)
                print(f"  {name:8}{other:8}{found.comparable.verdict:>10}  {topics}")
    repeats = [read(path) for path in sorted((folder / "repeat").glob("*.jpg"))]
    shots = [photo.shot for photo in repeats]
    profile = repeat_profile(
        [shot.measured for shot in shots], [align_shots(shots[0], one) for one in shots[1:]]
    )
    for figure, scatter in profile.figures.items():
        print(
            f"repeat {figure:16} SD {100 * scatter.relative:5.2f} %, "
            f"common part {100 * scatter.common:5.2f} %, "
            f"limit {scatter.limit_percent:5.1f} %, smallest change {scatter.smallest_change_percent:5.1f} %"
        )
    seconds = np.median([photo.seconds for photo in (*photos.values(), *repeats)])
    print(f"measuring one photograph took {seconds:.2f} s (median)")


if __name__ == "__main__":
    main()
