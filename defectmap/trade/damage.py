"""Damage that a car comes with, and which of it polishing cannot mend (common practice, no source)."""

from __future__ import annotations

from defectmap.words.remark import Remark

DAMAGE_KINDS = ("chip", "dent", "deep scratch", "crack", "stain", "repaint", "other")
_NOT_BY_POLISHING = ("chip", "dent", "deep scratch", "crack")


def why_it_stays(kind: str) -> Remark | None:
    """Why polishing does not mend this kind of damage; None where it may.

    Examples
    --------
    >>> why_it_stays("stain") is None
    True
    """
    return Remark(code=f"stays {kind}") if kind in _NOT_BY_POLISHING else None
