"""Which word the stages allow: marks are removed, or only less visible.

Polishing oils, fillers, glazes and some protections hide marks without removing them (common practice, no
source).
Only a photograph taken after a solvent wipe, with nothing put on the paint since, shows what is left.
"""

from __future__ import annotations

import math
from typing import Literal, get_args

from defectmap.comparison.interval import RatioInterval
from defectmap.comparison.outcome import Claim, Reason, Rebound
from defectmap.words.remark import Remark

Stage = Literal[
    "as received",
    "washed",
    "decontaminated",
    "test spot",
    "corrected",
    "wiped",
    "filled",
    "protected",
    "follow up",
]
STAGES: tuple[Stage, ...] = get_args(Stage)


def claim(*, before_stage: Stage | None, after_stage: Stage | None) -> Claim:
    """Say which word the report may use.

    Parameters
    ----------
    before_stage, after_stage : Stage or None
        When each side was photographed; None where nobody said.

    Returns
    -------
    Claim
        "removed" only for an after photograph that was wiped with solvent and carries nothing since.

    Examples
    --------
    >>> claim(before_stage="decontaminated", after_stage="wiped").word
    'removed'
    >>> claim(before_stage="decontaminated", after_stage="filled").word
    'less visible'
    """
    notes = _notes(before_stage)
    if after_stage == "wiped":
        return Claim(word="removed", reason=Remark(code="wiped"), notes=notes)
    reason = Remark(code=f"hiding {after_stage or 'unknown'}")
    return Claim(word="less visible", reason=reason, notes=notes)


def stage_reasons(after_stage: Stage | None) -> tuple[Reason, ...]:
    """A reason for care where something on the paint is known to hide marks after."""
    if after_stage not in ("filled", "protected", "follow up"):
        return ()
    return (Reason(code=f"{after_stage} after", topic="stage", verdict="with care"),)


def rebound(*, unwiped: RatioInterval, wiped: RatioInterval, back: RatioInterval) -> Rebound:
    """What the solvent wipe brought back.

    Parameters
    ----------
    unwiped : RatioInterval
        Density after correction and before the wipe, over that before correction.
    wiped : RatioInterval
        Density after the wipe over that before correction.
    back : RatioInterval
        Density after the wipe over that just before the wipe.

    Returns
    -------
    Rebound
        In percentage points of the density before correction; above 0 where marks came back.
    """
    share = 100 * unwiped.ratio
    low, high = (share * (end - 1) for end in (back.low, back.high))
    points = share * (back.ratio - 1)
    code = "nothing certain came back" if math.isfinite(high) else "too little to say what came back"
    values = {
        "unwiped": unwiped.change_percent,
        "wiped": wiped.change_percent,
        "points": points,
        "low": low,
        "high": high,
    }
    return Rebound(
        unwiped_change_percent=unwiped.change_percent,
        wiped_change_percent=wiped.change_percent,
        points=points,
        ci95_points=(low, high),
        remark=Remark(code="came back" if back.low > 1 else code, values=values),
    )


def _notes(before_stage: Stage | None) -> tuple[Remark, ...]:
    if before_stage == "as received":
        return (Remark(code="unwashed before"),)
    if before_stage in ("filled", "protected"):
        return (Remark(code="filled before"),)
    if before_stage is None:
        return (Remark(code="stage before unknown"),)
    return ()
