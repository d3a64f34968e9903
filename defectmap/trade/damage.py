"""Damage that a car comes with, and which of it polishing cannot mend (common practice, no source)."""

from __future__ import annotations

from defectmap.trade.facts import DamageRecord
from defectmap.words.remark import Remark

DAMAGE_KINDS = ("chip", "dent", "deep scratch", "crack", "stain", "repaint", "other")
NOT_BY_POLISHING = ("chip", "dent", "deep scratch", "crack")


def stays_because(damage: DamageRecord) -> Remark | None:
    """Why this damage is not corrected; None where it is to be worked on."""
    if damage.stays is None:
        return None
    if damage.stays:
        return Remark(code="stays, as said", values={"why": damage.stays})
    return Remark(code=f"stays {damage.kind}")
