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

Stage = Literal[
    "as received",
    "washed",
    "decontaminated",
    "test spot",
    "corrected",
    "wiped",
    "filled",
    "protected",
]
STAGES: tuple[Stage, ...] = get_args(Stage)

_HIDING: dict[Stage | None, str] = {
    None: "the stage of the after photograph is not given, so marks may be hidden and not gone",
    "as received": "the after photograph is said to be as received, before any correction",
    "washed": "the after photograph is said to be only washed, not wiped with solvent",
    "decontaminated": "the after photograph is said to be only decontaminated, not wiped with solvent",
    "test spot": "the test spot was not wiped with solvent yet, and polishing oils hide marks",
    "corrected": "the paint was not wiped with solvent yet, and polishing oils hide marks",
    "filled": "a filler or glaze is on the paint, which hides marks without removing them",
    "protected": "protection is on the paint, and some of it hides marks without removing them",
}


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
        reason = "Photographed after the solvent wipe, with no filler or protection on the paint."
        return Claim(word="removed", reason=reason, notes=notes)
    reason = f"Say 'less visible', not 'removed': {_HIDING[after_stage]}."
    return Claim(word="less visible", reason=reason, notes=notes)


def stage_reasons(after_stage: Stage | None) -> tuple[Reason, ...]:
    """A reason for care where something on the paint is known to hide marks after."""
    if after_stage not in ("filled", "protected"):
        return ()
    sentence = f"The change is that of visible marks: {_HIDING[after_stage]}; compare after a solvent wipe."
    return (Reason(topic="stage", verdict="with care", sentence=sentence),)


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
    said = (
        f"Before the wipe {_fewer(unwiped.change_percent)}, after the wipe {_fewer(wiped.change_percent)}: "
    )
    if back.low > 1:
        said += (
            f"{points:.0f} points came back ({low:.0f} to {high:.0f}), so oils or fillers had hidden marks."
        )
    elif math.isfinite(high):
        said += f"nothing certain came back ({low:.0f} to {high:.0f} points)."
    else:
        said += "too little was seen to say what came back."
    return Rebound(
        unwiped_change_percent=unwiped.change_percent,
        wiped_change_percent=wiped.change_percent,
        points=points,
        ci95_points=(low, high),
        sentence=said,
    )


def _notes(before_stage: Stage | None) -> tuple[str, ...]:
    if before_stage == "as received":
        return (
            "The before photograph was taken unwashed: dirt may count as marks, so improvement may be less.",
        )
    if before_stage in ("filled", "protected"):
        return ("The before photograph shows paint with a filler or protection on it, which hides marks.",)
    if before_stage is None:
        return ("The stage of the before photograph is not given.",)
    return ()


def _fewer(change_percent: float) -> str:
    return f"{abs(change_percent):.0f} % {'fewer' if change_percent <= 0 else 'more'} marks showed"
