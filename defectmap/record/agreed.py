"""What was agreed with the customer as good enough: how it is checked, kept, and said in words.

Nothing that was ever agreed is lost: the job keeps each earlier target with the time until which it held.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from defectmap.errors import JobError
from defectmap.record.sealing import canonical
from defectmap.trade.facts import EarlierTarget, Target
from defectmap.words.writer import ENGLISH, Writer

EARLIER = "earlier"
# Name, unit, most that can be meant, and whether none at all can be agreed. The most is our own caution
# against a slip of the decimal point; haze ends at 1 by its definition. No photograph shows that no mark
# at all is left, and no lamp is without a halo, so 0 is no target for these two.
FIGURES: Mapping[str, tuple[str, str, float, bool]] = {
    "density_mm_per_cm2": ("density of marks", "mm/cm²", 200.0, False),
    "longest_scratch_mm": ("longest scratch", "mm", 3000.0, True),
    "haze": ("haze", "", 1.0, False),
    "trail_mm_per_cm2": ("buffer trails", "mm/cm²", 200.0, True),
}


def check_target(target: Target) -> None:
    """Refuse what nobody can have meant.

    Raises
    ------
    JobError
        A figure is no number, below what can be reached, or far above what is ever measured.
    """
    for key, (name, unit, most, zero) in FIGURES.items():
        value = getattr(target, key)
        if value is None:
            continue
        enough = value >= 0 if zero else value > 0
        if not (math.isfinite(value) and enough and value <= most):
            unit = f" {unit}" if unit else ""
            span = f"from 0 to {most:g}{unit}" if zero else f"above 0 and up to {most:g}{unit}"
            raise JobError(
                f"At most {value:g}{unit} cannot be meant for {name}: "
                f"give a figure {span}, or leave it empty."
            )


def target_words(target: Target, *, writer: Writer = ENGLISH) -> str:
    """What was agreed, as a person says it.

    Examples
    --------
    >>> target_words(Target(density_mm_per_cm2=2.0, longest_scratch_mm=30.0))
    'at most 2 mm/cm² of marks, no scratch longer than 30 mm'
    >>> target_words(Target(trail_mm_per_cm2=0.0)), target_words(Target())
    ('no buffer trails', "nothing agreed, so the shop's usual aim holds")
    """
    density, longest = target.density_mm_per_cm2, target.longest_scratch_mm
    haze, trail = target.haze, target.trail_mm_per_cm2
    parts = []
    if density is not None:
        most = {"most": writer.density(density), "unit": writer.density_unit}
        parts.append(writer.tell("at most {most:.3g} {unit} of marks", **most))
    if longest is not None:
        most = {"most": writer.length(longest), "unit": writer.length_unit}
        parts.append(
            writer.tell("no scratch longer than {most:.3g} {unit}", **most)
            if longest
            else writer.tell("no scratch")
        )
    if haze is not None:
        parts.append(writer.tell("haze at most {most:g}", most=haze))
    if trail is not None:
        most = {"most": writer.density(trail), "unit": writer.density_unit}
        parts.append(
            writer.tell("at most {most:.3g} {unit} of buffer trails", **most)
            if trail
            else writer.tell("no buffer trails")
        )
    return ", ".join(parts) or writer.tell("nothing agreed, so the shop's usual aim holds")


def stored_target(target: Target, earlier: tuple[EarlierTarget, ...] = ()) -> str:
    """As the record keeps it; figures left free are left out, so that older versions read it as well."""
    kept: dict[str, Any] = _given(target)
    if earlier:
        kept[EARLIER] = [{"until": one.until, **_given(one.target)} for one in earlier]
    return canonical(kept)


def read_target(stored: str) -> tuple[Target, tuple[EarlierTarget, ...]]:
    """What holds now, and what held before, oldest first."""
    kept = json.loads(stored)
    earlier = kept.pop(EARLIER, [])
    return Target(**kept), tuple(
        EarlierTarget(until=one["until"], target=Target(**{k: v for k, v in one.items() if k != "until"}))
        for one in earlier
    )


def changed_target(stored: str, target: Target, *, at: str) -> str:
    """The same with another target; what held until then joins the earlier ones."""
    now, earlier = read_target(stored)
    if target == now:
        return stored
    return stored_target(target, (*earlier, EarlierTarget(target=now, until=at)))


def _given(target: Target) -> dict[str, float]:
    return {key: value for key, value in asdict(target).items() if value is not None}
