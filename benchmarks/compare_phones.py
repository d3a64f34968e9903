"""One panel before and after a correction, through one phone and through several: is the change found true?

    python benchmarks/compare_phones.py same   [--panels 12] [--workers 2]
    python benchmarks/compare_phones.py across [--panels 1] [--workers 2]

Analytic photographs of the tests' renderer, black, white and silver paint, each photographed by hand: place,
turn and lamp move by some mm between any two. Truth is the density of marks of the standard in the noise-free
picture, whatever the camera could show: after over before of the same two photographs (`same`), or the median
over the phones (`across`), which is the change of the paint. An interval is FALSE where it misses the truth.
`same` takes one phone and many panels; `across` takes each photograph with each other, corrected and
untouched. `compare_processing.py` processes one photograph of a pair instead, and steps its ISO.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from benchmarks.compare_processing import PAINTS, processed
from defectmap.comparison.compare import Shot, compare_shots, measured_shot
from defectmap.panel.photo.photograph import load
from tests import phantom

FRAME_MM = (75.0, 95.0)
DENSITY_MM_PER_CM2 = {"black": 60.0, "white": 110.0, "silver": 90.0}  # of grooves in every direction
LEFT = 0.3  # share of swirl marks that a correction leaves
# name: pixels a millimetre, exposure in stops, ISO, what is done to the file (of `compare_processing.CASES`)
PHONES: dict[str, tuple[float, float, float, str]] = {
    "plain": (20.0, 0.0, 100.0, "nothing"),
    "near": (27.0, 0.0, 100.0, "nothing"),
    "far": (13.0, 0.0, 100.0, "nothing"),
    "ISO 400": (20.0, 0.0, 400.0, "nothing"),
    "brighter": (20.0, 0.7, 100.0, "nothing"),
    "processed": (22.0, 0.2, 200.0, "sharpened"),
    "denoised": (18.0, 0.0, 200.0, "denoised"),
    "tone mapped": (20.0, 0.0, 100.0, "tone mapped"),
    "messenger": (20.0, 0.0, 100.0, "messenger"),
}


@dataclass(frozen=True)
class Taken:
    """One photograph, measured, and the true density of its marks."""

    shot: Shot
    true: float


@dataclass(frozen=True)
class Judged:
    """One pair."""

    kind: str  # paint, whether one phone took both, whether the paint was corrected
    text: str
    verdict: str
    error: float | None  # found less true, in points of percent; None without a figure
    width: float = 0.0
    false: bool = False
    distinguishable: bool = False


def taken(paint: str, seed: int, phone: str, *, corrected: bool) -> Taken:
    """Photograph a panel by hand."""
    px_per_mm, ev, iso, case = PHONES[phone]
    rng = np.random.default_rng([seed, corrected, *phone.encode()])
    grooves = phantom.swirls(seed + 1, density_mm_per_cm2=DENSITY_MM_PER_CM2[paint])
    grooves += phantom.scratches(seed + 1, count=5)
    if corrected:
        grooves = phantom.polished(grooves, seed=seed, keep_share=LEFT, shallower=0.9)
    settings = phantom.Shot(
        size_px=(round(FRAME_MM[0] * px_per_mm), round(FRAME_MM[1] * px_per_mm)),
        px_per_mm=px_per_mm,
        ev=ev,
        iso=iso,
        seed=int(rng.integers(1 << 30)),
        offset_mm=tuple(rng.normal(0, 1.5, 2)),
        turn_deg=float(rng.normal(0, 1.0)),
        lamp_mm=(-8 + rng.normal(0, 3), 6 + rng.normal(0, 3), 480 + rng.normal(0, 5)),
    )
    seen = phantom.photograph(grooves, settings, panel=PAINTS[paint])
    assert seen.jpeg is not None
    data, share = processed(seen.jpeg, case)
    true = sum(piece.length_mm for piece in seen.standard) / (FRAME_MM[0] * FRAME_MM[1] / 100)
    side = "after" if corrected else "before"
    found = measured_shot(load(data, name=f"{phone}-{side}.jpg"), px_per_mm=px_per_mm * share)
    return Taken(shot=found, true=true)


def judged(before: Taken, after: Taken, true: float, *, kind: str, name: str) -> Judged:
    """Compare a pair and hold the interval against the truth."""
    found = compare_shots([before.shot], [after.shot])
    said = ", ".join(f"{reason.code} {reason.verdict}" for reason in found.comparable.reasons)
    text, verdict = f"{name:44}{found.comparable.verdict:>10}", found.comparable.verdict
    change = found.change("density all") if found.changes else None
    if change is None or change.change_percent is None or change.ci95_percent is None:
        return Judged(kind, f"{text} true {true:+6.1f}, no figure  {said}", verdict, None)
    low, high = change.ci95_percent
    false = not low <= true <= high
    text += f" true {true:+6.1f}, {change.change_percent:+6.1f} ({low:+6.1f} to {high:+6.1f})"
    return Judged(
        kind,
        f"{text}{' FALSE' if false else ''}  {said}",
        verdict,
        change.change_percent - true,
        high - low,
        false,
        bool(change.distinguishable),
    )


def same(paint: str, seed: int) -> list[Judged]:
    """One phone: corrected, and untouched."""
    before = taken(paint, seed, "plain", corrected=False)
    after = taken(paint, seed, "plain", corrected=True)
    own = 100 * (after.true / before.true - 1)
    return [judged(before, after, own, kind=f"{paint}, corrected", name=f"{paint} {seed}")]


def across(paint: str, seed: int) -> list[Judged]:
    """Each phone with each."""
    shots = {
        (phone, corrected): taken(paint, seed, phone, corrected=corrected)
        for phone in PHONES
        for corrected in (False, True)
    }
    change = float(np.median([shots[phone, True].true / shots[phone, False].true for phone in PHONES]))
    pairs = []
    for one in PHONES:
        for other in PHONES:
            for corrected in (False, True):
                if one == other and not corrected:
                    continue
                kind = "one phone, " if one == other else "two phones, "
                kind += "corrected" if corrected else "untouched"
                name = f"{paint} {seed}: {one} -> {other}{', corrected' if corrected else ''}"
                true = 100 * (change - 1) if corrected else 0.0
                pairs.append(judged(shots[one, False], shots[other, corrected], true, kind=kind, name=name))
    return pairs


def told(pairs: Iterable[Judged]) -> None:
    """Print a line for each kind of pair."""
    everything = list(pairs)
    for kind in dict.fromkeys(one.kind for one in everything):
        group = [one for one in everything if one.kind == kind]
        given = [one for one in group if one.error is not None]
        errors = np.array([one.error for one in given] or [np.nan])
        certain = [one for one in given if one.verdict == "yes"]
        print(
            f"{kind}: {len(group)} pairs, {len(given)} figures, {len(certain)} with 'yes'; false "
            f"{sum(one.false for one in given)}, with 'yes' {sum(one.false for one in certain)}; told apart "
            f"from no change {sum(one.distinguishable for one in given)}; found less true "
            f"{errors.mean():+.1f} points (standard deviation {errors.std():.1f}); interval "
            f"{np.median([one.width for one in given] or [np.nan]):.0f} wide"
        )


def main() -> None:
    """Print each pair, then each kind of pair."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("what", choices=("same", "across"))
    parser.add_argument("--panels", type=int, default=None, help="of each paint")
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--paints", nargs="+", choices=tuple(PAINTS), default=tuple(PAINTS))
    asked = parser.parse_args()
    panels = asked.panels or (12 if asked.what == "same" else 1)
    jobs = [
        (paint, seed) for paint in asked.paints for seed in range(asked.first_seed, asked.first_seed + panels)
    ]
    pairs: list[Judged] = []
    with ProcessPoolExecutor(asked.workers) as pool:
        for found in pool.map({"same": same, "across": across}[asked.what], *zip(*jobs, strict=True)):
            for one in found:
                print(one.text, flush=True)
            pairs += found
    told(pairs)


if __name__ == "__main__":
    main()
