"""Render the sample films: one spot of an invented panel under a moved lamp, before and after correction.

    python -m samples.films.render

The analytic renderer of the tests (`tests/phantom`), 8 px/mm; `truth.json` holds each frame's place, the
length of groove on the panel, and how much of it any frame shows at the standard (100 µm over 1 mm).
"""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np

from benchmarks.film import runs_on_map, shown_um
from tests.phantom import Shot, lengths_mm, polished, scratches, swirls
from tests.phantom.film import Sweep, film, write_film

HERE = Path(__file__).parent
PANEL_MM = (80.0, 110.0)
SHOT = Shot(size_px=(440, 600), px_per_mm=8.0)
SWEEP = Sweep(frames=36, rows=3, reach_mm=(15, 24))


def main() -> None:
    """Write both films and their truth."""
    before = [
        *swirls(7, density_mm_per_cm2=45, panel_mm=(80, 110)),
        *scratches(8, count=2, panel_mm=(80, 110)),
    ]
    after = list(polished(before, seed=7, keep_share=0.4, shallower=0.8))
    truth = {}
    for name, grooves, sweep in (("before", before, SWEEP), ("after", after, replace(SWEEP, seed=4, rows=4))):
        made = film(grooves, replace(SHOT, seed=100 * len(truth)), sweep)
        write_film(made.frames, HERE / f"{name}.mp4")
        truth[name] = {
            "px_per_mm": made.px_per_mm,
            "groove_mm": sum(lengths_mm(grooves).values()),
            "standard_mm": sum(length for _, length in runs_on_map(grooves, made, shown_um(grooves, made))),
            "to_first": [np.round(h, 9).tolist() for h in made.to_first],
        }
    (HERE / "truth.json").write_text(json.dumps(truth, indent=1) + "\n")


if __name__ == "__main__":
    main()
