"""What the record of the work says lay on the paint when a photograph was taken: oils, a filler, protection.

Oils, fillers and protection hide marks (common practice, no source); which word that allows is decided in
`comparison/masking.py`.
"""

from __future__ import annotations

from collections.abc import Sequence

from defectmap.comparison.masking import OnPaint
from defectmap.trade.facts import PanelHistory
from defectmap.trade.stages import last_step


def on_paint(history: PanelHistory, *, taken_at: str | None) -> OnPaint:
    """What lay on the panel.

    Parameters
    ----------
    taken_at : str or None
        When the photograph was taken, by the camera's clock; None where the camera did not say. Its stage is
        then taken at its word as to protection, and every recorded step counts for oils and fillers.
    """
    steps = tuple(step for step in history.steps if taken_at is None or step.at <= taken_at)
    correct, wipe = last_step(steps, "correct"), last_step(steps, "wipe")
    return OnPaint(
        oils=wipe is None or (correct is not None and wipe.at < correct.at),
        filler=last_step(steps, "fill") is not None,
        protection=taken_at is not None and last_step(steps, "protect") is not None,
    )


def on_any(found: Sequence[OnPaint]) -> OnPaint:
    """What lay on the paint in at least one of several photographs."""
    return OnPaint(
        oils=any(one.oils for one in found),
        filler=any(one.filler for one in found),
        protection=any(one.protection for one in found),
    )
