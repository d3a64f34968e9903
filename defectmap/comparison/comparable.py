"""May two photographs be compared? Every reason against it comes with the number and the limit."""

from __future__ import annotations

import math
from collections.abc import Iterator

from defectmap.comparison import light_rules as lightrules
from defectmap.comparison import place_rules as placerules
from defectmap.comparison.align import Alignment
from defectmap.comparison.conditions import Evidence
from defectmap.comparison.halo import halo_difference
from defectmap.comparison.outcome import Comparability, Reason


def comparable(
    before: Evidence,
    after: Evidence,
    alignment: Alignment,
    *,
    common_area_cm2: float,
    width_ratio: float = math.nan,
) -> Comparability:
    """Hold two photographs against each other, rule by rule.

    Parameters
    ----------
    before, after : Evidence
        Of the two photographs.
    alignment : Alignment
        How they lie on each other.
    common_area_cm2 : float
        Area where both may count marks.
    width_ratio : float, optional
        Width of the same marks, after over before; NaN where there are too few.

    Returns
    -------
    Comparability
        Only reasons at "with care" and "no"; the verdict is the worst of them.
    """
    copied = tuple(placerules.same_picture(before, after))
    if copied:  # everything else agrees by itself then
        return Comparability(reasons=copied)
    halo = halo_difference(before, after)
    rules = (
        placerules.place(before, after, alignment),
        placerules.overlap(before, after, common_area_cm2=common_area_cm2),
        placerules.scale(before, after, alignment),
        lightrules.lamp(before, after, halo),
        lightrules.exposure(halo),
        lightrules.paint(before, after, halo),
        lightrules.focus(width_ratio),
        lightrules.detection(before, after),
        _order(before, after),
        _processing(before, after),
    )
    return Comparability(reasons=tuple(reason for rule in rules for reason in rule))


def _order(before: Evidence, after: Evidence) -> Iterator[Reason]:
    first, second = before.facts.taken, after.facts.taken
    if first and second and second < first:
        sentence = f"By the camera's clock after ({second}) is older than before ({first}): are they swapped?"
        yield Reason(topic="order", verdict="with care", sentence=sentence)


def _processing(before: Evidence, after: Evidence) -> Iterator[Reason]:
    if before.facts.hdr != after.facts.hdr:
        which = "before" if before.facts.hdr else "after"
        sentence = f"Only the {which} photograph was merged from several exposures (HDR); switch that off."
        yield Reason(topic="processing", verdict="with care", sentence=sentence)
    elif before.facts.hdr:
        sentence = "Both photographs were merged from several exposures (HDR), which changes contrast."
        yield Reason(topic="processing", verdict="with care", sentence=sentence)
    cameras = before.facts.camera, after.facts.camera
    if None not in cameras and cameras[0] != cameras[1]:
        sentence = f"The cameras differ ({cameras[0]} and {cameras[1]}); use one for both."
        yield Reason(topic="processing", verdict="with care", sentence=sentence)
