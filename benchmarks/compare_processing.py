"""Untouched paint, one photograph processed: does a comparison find a change that is not there?

    python benchmarks/compare_processing.py [--panels 2] [--workers 2] [--cases "ISO 160" denoised ...]

Analytic photographs of one panel, taken twice by hand, the lamp moved by some mm, at ISO 50 to 1600, some
with another exposure on the second side. The second goes through what a phone or an app does
(`benchmarks/processings.py`). Prints change, interval, verdict and reasons, then a line for each case;
the truth is no change.
"""

from __future__ import annotations

import argparse
import io
import sys
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from benchmarks.processings import CASES
from defectmap.comparison.compare import Shot, compare_shots, measured_shot
from defectmap.errors import PhotoError
from defectmap.panel.photo.photograph import load
from tests import phantom

PX_PER_MM = 20.0
PAINTS = {
    "black": phantom.Panel(seed=3, orange_peel_rad=0.0015),
    "white": phantom.Panel(seed=4, body=(0.5, 0.5, 0.49)),
    "silver": phantom.Panel(seed=5, body=(0.12, 0.12, 0.125), flake=0.6),
}
MORE_PAINTS = {
    **PAINTS,
    "hazy": phantom.Panel(seed=6, alpha=0.016, orange_peel_rad=0.002),
    "flaked": phantom.Panel(seed=7, body=(0.03, 0.05, 0.12), flake=1.2),
}


# ISO of both photographs, and exposure of the second against the first, in stops: one a seed
SETTINGS = ((100.0, 0.0), (50.0, 0.0), (400.0, 0.0), (1600.0, 0.0), (100.0, 0.7), (64.0, -0.6))


def taken(paint: str, seed: int, side: int, *, iso_step: float = 1.0) -> bytes:
    """One photograph by hand, at the settings of its seed."""
    iso, ev = SETTINGS[seed % len(SETTINGS)]
    rng = np.random.default_rng([seed, side])
    grooves = phantom.swirls(seed + 1, density_mm_per_cm2=40) + phantom.scratches(seed + 1, count=5)
    shot = phantom.Shot(
        size_px=(1200, 1520),
        px_per_mm=PX_PER_MM,
        seed=int(rng.integers(1 << 30)),
        iso=iso * iso_step,
        ev=ev * side,
        offset_mm=tuple(rng.normal(0, 1.5, 2)),
        turn_deg=float(rng.normal(0, 1.0)),
        lamp_mm=(-8 + rng.normal(0, 3), 6 + rng.normal(0, 3), 480 + rng.normal(0, 5)),
    )
    seen = phantom.photograph(grooves, shot, panel=MORE_PAINTS[paint])
    assert seen.jpeg is not None
    return seen.jpeg


def processed(jpeg: bytes, case: str) -> tuple[bytes, float]:
    """The file after what was done to it, and its new size; a messenger drops the camera's notes."""
    done = CASES[case]
    if done.change is None:
        return jpeg, done.share
    picture = Image.open(io.BytesIO(jpeg))
    notes = picture.info.get("exif") if done.share == 1.0 else None
    out = io.BytesIO()
    changed = Image.fromarray(done.change(np.asarray(picture.convert("RGB"))))
    changed.save(out, "JPEG", quality=done.quality, **({"exif": notes} if notes else {}))
    return out.getvalue(), done.share


def shot_of(data: bytes, name: str, share: float = 1.0) -> Shot:
    return measured_shot(load(data, name=name), px_per_mm=PX_PER_MM * share)


@dataclass(frozen=True)
class Tried:
    """One pair of untouched paint."""

    case: str
    text: str
    false: bool | None = None  # whether a change was found that is not there; None without a figure
    certain: bool = False  # whether the verdict is "yes"


def row(paint: str, seed: int, cases: Sequence[str]) -> list[Tried]:
    """Some cases of one panel."""
    before, lines = shot_of(taken(paint, seed, 0), "before.jpg"), []
    for case in cases:
        try:
            data, share = processed(taken(paint, seed, 1, iso_step=CASES[case].iso_step), case)
            after = shot_of(data, "after.jpg", share)
        except PhotoError as error:
            lines.append(Tried(case, f"{paint:7}{seed:3} {case:16} refused: {error}"))
            continue
        found = compare_shots([before], [after])
        said = ", ".join(f"{reason.code} {reason.verdict}" for reason in found.comparable.reasons)
        change = found.change("density all") if found.changes else None
        text = f"{paint:7}{seed:3} {case:16}{found.comparable.verdict:>10}"
        if change is None or change.change_percent is None or change.ci95_percent is None:
            lines.append(Tried(case, f"{text}  no figure  {said}"))
            continue
        low, high = change.ci95_percent
        text += f" {change.change_percent:+6.1f} ({low:+6.1f} to {high:+6.1f})"
        told = f"{text}{' FALSE' if change.distinguishable else ''}  {said}"
        lines.append(Tried(case, told, bool(change.distinguishable), found.comparable.verdict == "yes"))
    return lines


def main() -> None:
    """Print a line for each case."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--panels", type=int, default=2)
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--paints", nargs="+", choices=tuple(MORE_PAINTS), default=tuple(MORE_PAINTS))
    parser.add_argument("--cases", nargs="+", choices=tuple(CASES), default=tuple(CASES))
    asked = parser.parse_args()
    seeds = range(asked.first_seed, asked.first_seed + asked.panels)
    jobs = [(paint, seed, asked.cases) for paint in asked.paints for seed in seeds]
    pairs: list[Tried] = []
    with ProcessPoolExecutor(asked.workers) as pool:
        for tried in pool.map(row, *zip(*jobs, strict=True)):
            for one in tried:
                print(one.text, flush=True)
            pairs += tried
    for case in (*dict.fromkeys(one.case for one in pairs), None):
        group = [one for one in pairs if case in (one.case, None)]
        given = [one for one in group if one.false is not None]
        false = [one for one in given if one.false]
        print(
            f"{case or 'all':16} {len(group):3} pairs of untouched paint, {len(given):3} figures, "
            f"{sum(one.certain for one in given):3} with 'yes', {len(false)} false, "
            f"{sum(one.certain for one in false)} of them with 'yes'"
        )


if __name__ == "__main__":
    main()
