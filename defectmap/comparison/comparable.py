"""May two photographs be compared? Every reason against it comes with the number and the limit."""

from __future__ import annotations

from collections.abc import Iterator

from defectmap.comparison import light_rules, place_rules
from defectmap.comparison.align import Alignment
from defectmap.comparison.conditions import Evidence
from defectmap.comparison.halo import halo_difference
from defectmap.comparison.matching import Sharpness, StrengthStep
from defectmap.comparison.outcome import Comparability, Reason
from defectmap.comparison.processing import Side, bends_halo, processing_reasons


def comparable(
    before: Evidence,
    after: Evidence,
    alignment: Alignment,
    *,
    common_area_cm2: float,
    sharpness: Sharpness | None = None,
    seen: StrengthStep | None = None,
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
    sharpness : Sharpness, optional
        Widths of the same marks; None where there are too few.
    seen : StrengthStep, optional
        Their strengths, where one photograph was processed.

    Returns
    -------
    Comparability
        Only reasons at "with care" and "no"; the verdict is the worst of them.
    """
    copied = tuple(place_rules.same_picture(before, after))
    if copied:  # everything else agrees by itself then
        return Comparability(reasons=copied)
    halo = halo_difference(before, after)
    bent = bends_halo(*sides(before, after), halo, seen)
    rules = (
        place_rules.place(before, after, alignment),
        place_rules.overlap(before, after, common_area_cm2=common_area_cm2),
        place_rules.lamp_moved(before, after, alignment),
        place_rules.scale(before, after, alignment),
        light_rules.lamp(before, after, halo, bent=bent),
        () if bent else light_rules.exposure(before, after, halo),
        light_rules.paint(before, after, halo, bent=bent),
        light_rules.focus(sharpness),
        light_rules.detection(before, after),
        light_rules.round_lamp(before, after),
        light_rules.warned(before, after),
        _order(before, after),
        _cameras(before, after),
        processing_reasons(*sides(before, after), halo),
    )
    return Comparability(reasons=tuple(reason for rule in rules for reason in rule))


def _order(before: Evidence, after: Evidence) -> Iterator[Reason]:
    first, second = before.facts.taken, after.facts.taken
    if first and second and second < first:
        values = {"before": first, "after": second}
        yield Reason(code="order", values=values, topic="order", verdict="with care")


def sides(before: Evidence, after: Evidence) -> tuple[Side, Side]:
    """Both photographs as the rules on processing see them."""
    return (
        Side(name="before", facts=before.facts, found=before.processing),
        Side(name="after", facts=after.facts, found=after.processing),
    )


def _cameras(before: Evidence, after: Evidence) -> Iterator[Reason]:
    merged = [side for side, one in (("before", before), ("after", after)) if one.facts.hdr]
    if len(merged) == 1:
        yield Reason(code="one merged", values={"side": merged[0]}, topic="processing", verdict="with care")
    elif merged:
        yield Reason(code="both merged", topic="processing", verdict="with care")
    first, second = before.facts.camera, after.facts.camera
    if first is not None and second is not None and first != second:
        values = {"before": first, "after": second}
        yield Reason(code="cameras differ", values=values, topic="processing", verdict="with care")
