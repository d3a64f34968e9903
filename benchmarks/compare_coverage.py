"""How often does the 95 % interval of a comparison hold the truth? Simulated pairs of analytic photographs.

    python benchmarks/compare_coverage.py [--pairs 480] [--marks exact|measured] [--workers 2]

Each pair is a panel of swirl marks of its own (density 12 to 80 mm/cm², orange peel of its own), photographed
by hand before and after a share of the marks was taken away by lot (or, one time in eight, added): camera and
lamp moved by a few mm, turned by degrees, exposed within 0.4 stops. The truth is the share of the grooves'
length that is left inside the picture; `by lot` holds the interval against the share that was drawn for
instead, the truth of all panels treated so. A photograph sees a good part of the picture's grooves, so the
first is easier to hold, and an interval made narrower for it would fall short of the second. `exact` takes
the phantom's visible pieces as marks (the statistics alone), `measured` measures the photographs.
"""

from __future__ import annotations

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.special import betaincinv

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from defectmap.comparison.compare import Shot, compare_shots, measured_shot
from defectmap.panel.photo.photograph import load
from tests import phantom
from tests.comparison import phantoms

SHARES = (1.5, 1.0, 0.8, 0.6, 0.4, 0.25, 0.15, 0.08)
FRAME_MM = (60.0, 76.0)


@dataclass(frozen=True)
class Trial:
    """One simulated pair."""

    share: float
    density: float
    verdict: str
    reasons: tuple[str, ...]
    true_percent: float
    found_percent: float | None
    interval: tuple[float, float] | None

    @property
    def held(self) -> bool | None:
        """Whether the interval holds the truth; None where there is none."""
        if self.interval is None:
            return None
        return self.interval[0] <= self.true_percent <= self.interval[1]

    @property
    def held_by_lot(self) -> bool | None:
        """Whether the interval holds the share that was drawn for."""
        if self.interval is None:
            return None
        return self.interval[0] <= 100 * (self.share - 1) <= self.interval[1]


def trial(seed: int, marks: str) -> Trial:
    """Make one pair and compare it."""
    rng = np.random.default_rng(seed)
    share = SHARES[seed % len(SHARES)]
    density = float(np.exp(rng.uniform(np.log(12), np.log(80))))
    fewer = phantom.swirls(seed + 1, density_mm_per_cm2=density)
    if share > 1:
        more = (*fewer, *phantom.swirls(seed + 100_001, density_mm_per_cm2=density * (share - 1)))
        sides = fewer, more
    else:
        sides = fewer, phantom.polished(fewer, seed=seed, keep_share=share)
    shots = [_photograph(grooves, rng, seed, marks) for grooves in sides]
    true = 100 * (shots[1][1] / shots[0][1] - 1)
    found = compare_shots([shots[0][0]], [shots[1][0]])
    change = found.change("density all") if found.changes else None
    return Trial(
        share=share,
        density=density,
        verdict=found.comparable.verdict,
        reasons=tuple(reason.topic for reason in found.comparable.reasons),
        true_percent=true,
        found_percent=change.change_percent if change else None,
        interval=change.ci95_percent if change else None,
    )


def _photograph(
    grooves: tuple[phantom.Groove, ...], rng: np.random.Generator, seed: int, marks: str
) -> tuple[Shot, float]:
    """A shot by hand, and the length of groove inside its picture."""
    settings: dict[str, object] = {
        "seed": int(rng.integers(1 << 30)),
        "offset_mm": tuple(rng.normal(0, 2.5, 2)),
        "turn_deg": float(rng.normal(0, 1.5)),
        "lamp_mm": (-8 + rng.normal(0, 4), 6 + rng.normal(0, 4), 480 + rng.normal(0, 10)),
        "ev": float(rng.uniform(-0.2, 0.2)),
    }
    panel = phantom.Panel(seed=seed)
    if marks == "exact":
        return phantoms.shot(grooves, panel=panel, **settings), _inside_mm(grooves)
    shot = phantom.Shot(size_px=(1200, 1520), px_per_mm=20.0, **settings)  # type: ignore[arg-type]
    seen = phantom.photograph(grooves, shot, panel=panel)
    assert seen.jpeg is not None
    return measured_shot(load(seen.jpeg, name=f"{seed}.jpg"), px_per_mm=20.0), _inside_mm(grooves)


def _inside_mm(grooves: tuple[phantom.Groove, ...]) -> float:
    """Length inside the middle of the panel that every picture shows, the same piece for both sides."""
    total = 0.0
    for groove in grooves:
        middle = (groove.points[1:] + groove.points[:-1]) / 2
        inside = (np.abs(middle) < np.array(FRAME_MM) / 2).all(axis=1)
        total += float(np.linalg.norm(np.diff(groove.points, axis=0), axis=1)[inside].sum())
    return total


def exact_bounds(successes: int, of: int) -> tuple[float, float]:
    """95 % interval of a share, in percent (Clopper and Pearson 1934)."""
    low = betaincinv(successes, of - successes + 1, 0.025) if successes else 0.0
    high = betaincinv(successes + 1, of - successes, 0.975) if successes < of else 1.0
    return 100 * float(low), 100 * float(high)


def main() -> None:
    """Run the pairs and print coverage."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--pairs", type=int, default=480)
    parser.add_argument("--marks", choices=("exact", "measured"), default="measured")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--first-seed", type=int, default=0)
    asked = parser.parse_args()
    seeds = range(asked.first_seed, asked.first_seed + asked.pairs)
    with ProcessPoolExecutor(asked.workers) as pool:
        trials = list(pool.map(trial, seeds, [asked.marks] * len(seeds), chunksize=4))
    heads = ("share left", "pairs", "compared", "held", "by lot", "of", "median width", "mean error")
    print(" ".join(f"{head:>12}" for head in heads))
    for share in (*SHARES, None):
        group = [one for one in trials if share is None or one.share == share]
        judged = [one for one in group if one.held is not None]
        held = sum(bool(one.held) for one in judged)
        width = np.median([one.interval[1] - one.interval[0] for one in judged if one.interval] or [np.nan])
        errors = [one.found_percent - one.true_percent for one in judged if one.found_percent is not None]
        cells = (
            "all" if share is None else f"{share:g}",
            len(group),
            sum(one.verdict != "no" for one in group),
            held,
            sum(bool(one.held_by_lot) for one in judged),
            len(judged),
            f"{width:.1f}",
            f"{np.mean(errors or [np.nan]):+.1f}",
        )
        print(" ".join(f"{cell:>12}" for cell in cells))
    judged = [one for one in trials if one.held is not None]
    for name, held in (("", [one.held for one in judged]), (" by lot", [one.held_by_lot for one in judged])):
        low, high = exact_bounds(sum(map(bool, held)), len(held))
        print(
            f"coverage{name} {100 * sum(map(bool, held)) / len(held):.1f} % of {len(held)} intervals "
            f"(so many pairs know it to {low:.1f} to {high:.1f} %)"
        )
    for one in trials:
        if one.verdict == "no":
            print(f"  refused: share {one.share:g}, density {one.density:.0f}: {', '.join(one.reasons)}")
    worse = [one for one in trials if one.share == 1.0 and one.held is not None]
    false = sum(not one.interval[0] <= 0 <= one.interval[1] for one in worse if one.interval)
    print(f"no change called a change: {false} of {len(worse)}")


if __name__ == "__main__":
    main()
