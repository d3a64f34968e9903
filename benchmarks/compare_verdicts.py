"""How far are true and false pairs from each limit of comparability? Analytic photographs, one thing changed.

    python benchmarks/compare_verdicts.py [--marks exact|measured]

Prints, for each change to the second photograph, the verdict, what the halo says, and the reasons.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from defectmap.comparison.align import align
from defectmap.comparison.compare import Shot, compare_shots, measured_shot
from defectmap.comparison.conditions import evidence
from defectmap.comparison.halo import halo_difference
from defectmap.comparison.place_rules import fingerprint_match
from defectmap.panel.photo.photograph import load
from defectmap.words.comparison_words import REASONS
from defectmap.words.remark import sentence
from tests import phantom
from tests.comparison import phantoms

HAND = phantoms.BY_HAND
RED = phantom.Panel(seed=1, body=(0.12, 0.008, 0.008))
SILVER = phantom.Panel(seed=1, body=(0.3, 0.3, 0.31), flake=1.3)
# what is changed, what the verdict must be, settings of the second shot
CASES: tuple[tuple[str, str, dict[str, object]], ...] = (
    ("true pair", "yes", HAND),
    ("stand, nothing moved", "yes", {"seed": 9}),
    ("half a stop darker", "yes", {**HAND, "ev": -0.5}),
    ("half a stop brighter", "yes", {**HAND, "ev": 0.5}),
    ("one stop darker", "with care", {**HAND, "ev": -1.0}),
    ("one stop brighter", "with care", {**HAND, "ev": 1.0}),
    ("two stops darker", "no", {**HAND, "ev": -2.0}),
    ("two stops brighter", "no", {**HAND, "ev": 2.0}),
    ("lamp twice as large", "no", {**HAND, "lamp_radius_mm": 22.0}),
    ("the same, exposure turned down", "no", {**HAND, "lamp_radius_mm": 22.0, "ev": -2.0}),
    ("lamp half as large", "no", {**HAND, "lamp_radius_mm": 5.5}),
    ("three small lamps", "no", {**HAND, "lamps": 3}),
    # melted into one round hotspot: on untouched paint the change is that of a single lamp to within a point
    ("four small lamps", "yes", {**HAND, "lamps": 4}),
    ("seven small lamps", "yes", {**HAND, "lamps": 7}),
    ("lamp 1.7 times as far", "with care", {**HAND, "lamp_mm": (-4.0, 3.0, 800.0)}),
    ("red paint", "no", {**HAND, "panel": RED}),
    ("silver paint", "no", {**HAND, "panel": SILVER}),
    ("sensitivity 8 times", "with care", {**HAND, "iso": 800.0}),  # marks of the standard drown in half of it
    ("soft focus", "with care", {**HAND, "blur_px": 1.2}),
    ("out of focus", "no", {**HAND, "blur_px": 2.0}),
)


def shot(grooves: tuple[phantom.Groove, ...], marks: str, **settings: object) -> Shot:
    """Photograph, with the phantom's marks or with measured ones."""
    exact = phantoms.shot(grooves, **settings)  # type: ignore[arg-type]
    if marks == "exact":
        return exact
    plain = {key: value for key, value in settings.items() if key != "panel"}
    panel = settings.get("panel") or phantom.Panel(seed=1)
    taken = phantom.Shot(**{"size_px": (760, 980), "px_per_mm": 10.0, **plain})  # type: ignore[arg-type]
    seen = phantom.photograph(grooves, taken, panel=panel)  # type: ignore[arg-type]
    assert seen.jpeg is not None
    return measured_shot(load(seen.jpeg, name="shot.jpg"), px_per_mm=10.0)


def main() -> None:
    """Print a line for each case."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--marks", choices=("exact", "measured"), default="measured")
    asked = parser.parse_args()
    before = shot(phantoms.swirled(), asked.marks, seed=1)
    ground = evidence(before.photo, before.measured, cells_per_mm=4.0)
    heads = ("verdict", "wanted", "marks", "texture", "stops", "shape", "radius", "paint", "copy", "changed")
    print(f"{'case':32}" + "".join(f"{head:>10}" for head in heads))
    wrong = 0
    cases = [*CASES, ("another panel", "no", {**HAND, "grooves": phantom.swirls(7, density_mm_per_cm2=40)})]
    for name, wanted, settings in cases:
        grooves = settings.get("grooves", phantoms.corrected())
        plain = {key: value for key, value in settings.items() if key != "grooves"}
        after = shot(grooves, asked.marks, **plain)  # type: ignore[arg-type]
        found = compare_shots([before], [after]).comparable
        other = evidence(after.photo, after.measured, cells_per_mm=4.0)
        pose, halo = align(ground.view, other.view), halo_difference(ground, other)
        copy, changed = fingerprint_match(ground, other)
        wrong += found.verdict != wanted
        figures = (pose.marks_sureness, pose.texture_sureness, halo.stops, halo.shape, halo.radius_steps)
        numbers = "".join(f"{value:10.2f}" for value in (*figures, halo.body_stops, copy, changed))
        print(f"{name:32}{found.verdict:>10}{wanted:>10}{numbers}")
        for reason in found.reasons:
            print(f"      {reason.topic}, {reason.verdict}: {sentence(reason, REASONS)}")
    print(f"{wrong} of {len(cases)} verdicts are not the wanted ones")


if __name__ == "__main__":
    main()
