"""Whether the spots of one panel are of one paint: a wing's or a neighbour's photograph may slip in."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from defectmap.comparison.conditions import Evidence
from defectmap.comparison.halo import halo_difference
from defectmap.comparison.light_rules import paint
from defectmap.comparison.outcome import Reason


def spots_of_two_paints(side: str, spots: Sequence[Evidence]) -> Iterator[Reason]:
    """Find spots whose paint differs so from the first one's that before and after would not be compared.

    Each pair may be right in itself, so it is no reason to give no figure; the panel's joint figure is then
    that of two paints.

    Parameters
    ----------
    side : {"before", "after"}
        Whose photographs they are.
    spots : sequence of Evidence
        One a spot.
    """
    for number, other in enumerate(spots[1:], start=2):
        told = [
            one for one in paint(spots[0], other, halo_difference(spots[0], other)) if one.verdict == "no"
        ]
        if told:
            yield Reason(
                topic="paint",
                verdict="with care",
                code="spots of two paints",
                values={"side": side, "first": 1, "second": number},
                value=told[0].value,
                limit=told[0].limit,
            )
