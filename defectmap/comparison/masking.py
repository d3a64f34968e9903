"""Which word may be used: marks are removed, or only less visible.

Polishing oils, fillers, glazes and some protections hide marks without removing them (common practice, no
source). Only a photograph taken after a solvent wipe, with nothing put on the paint since, shows what is
left; and one taken before decontamination may show dirt that was only washed off.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
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


@dataclass(frozen=True, slots=True, kw_only=True)
class OnPaint:
    """What the record of the work says lay on the paint in the after photographs."""

    oils: bool  # no solvent wipe since the last correction
    filler: bool  # a wipe does not surely take it off
    protection: bool


def claim(*, before_stage: Stage | None, after_stage: Stage | None, on_paint: OnPaint | None = None) -> Claim:
    """Say which word may be used.

    Parameters
    ----------
    before_stage, after_stage : Stage or None
        When each side was photographed; None where nobody said.
    on_paint : OnPaint, optional
        What a record of the work knows beside the stages; they alone decide where there is none.

    Returns
    -------
    Claim
        "removed" only for an after photograph that was wiped with solvent and carries nothing since, against
        one in which no dirt counts.

    Examples
    --------
    >>> claim(before_stage="decontaminated", after_stage="wiped").word
    'removed'
    >>> claim(before_stage="decontaminated", after_stage="filled").word
    'less visible'
    """
    against = tuple(Remark(code=code) for code in _against(before_stage, after_stage, on_paint))
    notes = _notes(before_stage)
    if against:
        return Claim(word="less visible", reasons=against, notes=notes)
    return Claim(word="removed", reasons=(Remark(code="wiped"),), notes=notes)


def _against(before: Stage | None, after: Stage | None, on_paint: OnPaint | None) -> Iterator[str]:
    """Codes of what speaks against "removed"."""
    if after != "wiped":
        yield f"hiding {after or 'unknown'}"
    if before in ("as received", "washed"):
        yield "dirt before"
    if on_paint is None:
        return
    if on_paint.oils:
        yield "no wipe recorded"
    if on_paint.filler:
        yield "filler recorded"
    if on_paint.protection:
        yield "protection recorded"


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
    if before_stage in ("filled", "protected"):
        return (Remark(code="filled before"),)
    if before_stage is None:
        return (Remark(code="stage before unknown"),)
    return ()
