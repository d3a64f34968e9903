"""How far the work on a panel is: the usual parts in their order, what is done, what comes next.

The order is that of `trade.stages` (common practice, no source); nobody is held to it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, get_args

from defectmap.record.overview import PanelOverview
from defectmap.trade.stages import BASELINE, PROOF
from defectmap.trade.tuning import READINGS_A_PLACE
from defectmap.words.guide import FEWEST_SPOTS

Part = Literal[
    "wash", "decontaminate", "before", "thickness", "test spot", "correct", "wipe", "after", "protect"
]
PARTS: tuple[Part, ...] = get_args(Part)


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelProgress:
    """Where a panel is."""

    done: frozenset[Part]
    spots_before: int
    spots_after: int

    @property
    def next(self) -> Part | None:
        """The first open part behind the last that is done, else the first left out; None at the end.

        Who has photographed and wiped has washed the car, whether or not it was entered. Photographs of too
        few spots are not done with until something else was done after them.
        """
        reached = max((number for number, part in enumerate(PARTS) if part in self.done), default=-1)
        spots = {"before": self.spots_before, "after": self.spots_after}
        if reached >= 0 and 0 < spots.get(PARTS[reached], 0) < FEWEST_SPOTS:
            return PARTS[reached]
        order = (*PARTS[reached + 1 :], *PARTS)
        return next((part for part in order if part not in self.done), None)


def progress_of(panel: PanelOverview) -> PanelProgress:
    """Look at what the record holds of a panel."""
    steps = panel.history.steps
    whole = {step.kind for step in steps if step.spot is None}
    done: set[Part] = {part for part in PARTS if part in whole}
    corrected = [step.at for step in steps if step.kind == "correct" and step.spot is None]
    wiped = [step.at for step in steps if step.kind == "wipe" and step.spot is None]
    if corrected and (not wiped or wiped[-1] < corrected[-1]):
        done.discard("wipe")  # oils of the last correction are still on
    if any(step.kind == "correct" and step.spot is not None for step in steps):
        done.add("test spot")
    places = [reading.place for reading in panel.history.readings]
    if any(places.count(place) >= READINGS_A_PLACE for place in places):
        done.add("thickness")
    before, after = _spots(panel, BASELINE), _spots(panel, PROOF)
    done |= {"before"} if before else set()
    done |= {"after"} if after else set()
    return PanelProgress(done=frozenset(done), spots_before=before, spots_after=after)


def on_every(panels: Sequence[PanelOverview], part: Part) -> bool:
    """Whether a part is done on every panel."""
    return all(part in progress_of(panel).done for panel in panels)


def _spots(panel: PanelOverview, stage: str) -> int:
    there = panel.at(stage)
    return 0 if there is None else len({one.spot for one in there.measured}) or there.photographs
