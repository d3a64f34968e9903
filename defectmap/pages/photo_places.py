"""Which spot, which stage, which photograph before: what the camera's and the photographs' pages both ask."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from defectmap.trade.facts import PhotographRecord
from defectmap.trade.stages import BASELINE, PROOF, STAGE_NAMES
from defectmap.words.guide import FEWEST_SPOTS

if TYPE_CHECKING:
    from defectmap.pages.frame import Desk


STAGE_AFTER = {
    "wash": "washed",
    "decontaminate": BASELINE,
    "correct": "corrected",
    "wipe": PROOF,
    "fill": "filled",
    "protect": "protected",
}


def spots_of(photographs: Sequence[PhotographRecord]) -> tuple[str, ...]:
    """Names of a panel's spots: those that have photographs, and numbers up to the fewest that are advised.

    Parameters
    ----------
    photographs : sequence of PhotographRecord
        Of the panel.
    """
    numbers = [str(number) for number in range(1, FEWEST_SPOTS + 1)]
    others = {p.spot for p in photographs} - set(numbers)
    return (*numbers, *sorted(others))


def usual_stage(desk: Desk, panel: str) -> str:
    """The stage that a panel is photographed at next: what was done to it last decides."""
    look = desk.panel(panel)
    steps = look.history.steps
    if not steps:
        return look.stage or BASELINE
    if steps[-1].spot is not None:
        return "test spot"
    return STAGE_AFTER[steps[-1].kind]


def earlier_photograph(
    photographs: Sequence[PhotographRecord], *, spot: str, stage: str
) -> PhotographRecord | None:
    """The photograph that one of this spot and stage will be held against; None where there is none."""
    at = STAGE_NAMES.index(stage)
    before = [p for p in photographs if p.spot == spot and STAGE_NAMES.index(p.stage) < at]
    return max(before, key=lambda p: (p.stage == BASELINE, p.added_at), default=None)
