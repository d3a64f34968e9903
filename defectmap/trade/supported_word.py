"""Whether the record supports "removed" for what changed between two photographs, or only "less visible".

Oils, fillers and protection hide marks (common practice in the trade, no source).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from defectmap.trade.facts import PanelHistory, PhotographRecord, StepRecord
from defectmap.trade.stages import PROOF, last_step


@dataclass(frozen=True, slots=True, kw_only=True)
class SupportedWord:
    """Which word the record supports for a difference between two photographs."""

    word: Literal["removed", "less visible"]
    reasons: tuple[str, ...]  # empty for "removed"


def supported_word(
    history: PanelHistory, *, before: PhotographRecord, after: PhotographRecord
) -> SupportedWord:
    """Whether the record supports "removed", or only "less visible".

    A stage is taken at its word where the camera gave no time; a camera's time is compared with the steps.

    Parameters
    ----------
    before, after : PhotographRecord
        Photographs of the same panel.
    """
    reasons: list[str] = []
    if before.stage in ("as received", "washed"):
        reasons.append("The first photograph was taken before decontamination, so dirt may count in it.")
    if after.stage != PROOF:
        reasons.append(
            f"The second photograph is of the stage {after.stage!r}; only one taken after a solvent wipe "
            "and before any protection shows what is gone."
        )
    seen = _until(history.steps, after.taken_at)
    last_correct = last_step(seen, "correct")
    last_wipe = last_step(seen, "wipe")
    if last_wipe is None or (last_correct is not None and last_wipe.at < last_correct.at):
        reasons.append(
            "No solvent wipe is recorded after the last correction: polishing oils may hide marks."
        )
    if last_step(seen, "fill") is not None:
        reasons.append("A filler is recorded: it hides marks, and a wipe does not surely take it off.")
    if after.taken_at is not None and last_step(seen, "protect") is not None:
        reasons.append("Protection was on the panel when the second photograph was taken.")
    return SupportedWord(word="less visible" if reasons else "removed", reasons=tuple(reasons))


def _until(steps: tuple[StepRecord, ...], taken_at: str | None) -> tuple[StepRecord, ...]:
    return steps if taken_at is None else tuple(step for step in steps if step.at <= taken_at)
