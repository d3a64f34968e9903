"""How sure is the place? Alignment of true pairs against pairs of panels that have nothing in common.

    python benchmarks/compare_place.py [--pairs 60]

Analytic photographs by hand, marks taken from the phantom: densities 8 to 80 mm/cm², 60 to 3 % of the marks
left. Prints the peak of the correlation over the next best place, for marks and for texture.
"""

from __future__ import annotations

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from defectmap.comparison.align import search
from defectmap.comparison.conditions import evidence
from defectmap.comparison.tuning import MIN_PIECES, SCALES
from defectmap.comparison.view import PanelView
from tests import phantom
from tests.comparison import phantoms

SHARES = (0.6, 0.3, 0.15, 0.08, 0.03)


def views(seed: int) -> tuple[float, float, list[PanelView]]:
    """Before, after, and after of another panel."""
    rng = np.random.default_rng(seed)
    share = SHARES[seed % len(SHARES)]
    density = float(np.exp(rng.uniform(np.log(8), np.log(80))))
    found = []
    for panel_seed, keep in ((seed, 1.0), (seed, share), (seed + 5000, share)):
        grooves = phantom.polished(
            phantom.swirls(panel_seed + 1, density_mm_per_cm2=density), seed=seed, keep_share=keep
        )
        shot = phantoms.shot(
            grooves,
            panel=phantom.Panel(seed=panel_seed),
            seed=int(rng.integers(1 << 30)),
            offset_mm=tuple(rng.normal(0, 2.5, 2)),
            turn_deg=float(rng.normal(0, 1.5)),
            lamp_mm=(-8 + rng.normal(0, 4), 6 + rng.normal(0, 4), 480 + rng.normal(0, 10)),
        )
        found.append(evidence(shot.photo, shot.measured, cells_per_mm=4.0).view)
    return density, share, found


def row(seed: int) -> tuple[float, float, int, list[float]]:
    """Sureness of marks and texture, true pair and false pair."""
    density, share, (before, after, other) = views(seed)
    sure = []
    for second in (after, other):
        marks = search(before.lines, second.lines, scales=SCALES)
        texture = search(before.texture, second.texture, scales=(1.0,))
        sure += [marks.sureness if marks else 0.0, texture.sureness if texture else 0.0]
    return density, share, min(before.line_pieces, after.line_pieces), sure


def main() -> None:
    """Print a line for each pair, then the extremes."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--pairs", type=int, default=60)
    asked = parser.parse_args()
    with ProcessPoolExecutor(2) as pool:
        rows = list(pool.map(row, range(asked.pairs), chunksize=4))
    heads = ("density", "left", "pieces", "true marks", "texture", "false marks", "texture")
    print(" ".join(f"{head:>11}" for head in heads))
    for density, share, pieces, sure in sorted(rows):
        print(" ".join(f"{cell:11.2f}" for cell in (density, share, pieces, *sure)))
    enough = [sure for _, _, pieces, sure in rows if pieces >= MIN_PIECES]
    print(
        f"with {MIN_PIECES} pieces or more: true marks {min(s[0] for s in enough):.2f} and up, "
        f"false marks {max(s[2] for s in enough):.2f} at most"
    )
    low, high = min(sure[1] for *_, sure in rows), max(sure[3] for *_, sure in rows)
    print(f"true texture {low:.2f} and up, false texture {high:.2f} at most")


if __name__ == "__main__":
    main()
