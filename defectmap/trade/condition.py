"""What was measured at one stage of a panel, held against the limits."""

from __future__ import annotations

from dataclasses import dataclass, replace

from defectmap.trade.judging import Estimate, Quantity, Verdict, judge
from defectmap.trade.targets import Limited, Limits
from defectmap.words.remark import Remark, Value


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """What was measured at one stage; figures that were not measured are None."""

    density: Estimate
    haze: Estimate | None = None
    trail: Estimate | None = None
    lasting: Estimate | None = None  # density without buffer trails
    longest_scratch: Estimate | None = None
    calibrated: bool = True
    directions_share: float | None = None  # of films: marks of all lamp places; None of photographs


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """One step that was tried on a spot; `found` is None until it is wiped, photographed and measured."""

    rung: str
    found: Condition | None
    before: Condition | None = None  # the same spot before this step
    again: bool = False  # tried after the last correction of the whole panel


def above(found: Estimate | None, limit: float | None) -> bool:
    """Whether a figure is above its limit beyond doubt; never where either is unknown."""
    return found is not None and limit is not None and judge(found, limit) == "not reached"


def has_trails(found: Condition, limits: Limits) -> bool:
    """Whether buffer trails are above their limit beyond doubt."""
    return above(found.trail, limits.trail_mm_per_cm2)


def without_trails(found: Condition, limits: Limits) -> Condition:
    """The same without its buffer trails, where they are above their limit; else the same object.

    On a panel whose marks are within their limit, or may be, trails count only beyond doubt, so that no
    pass is spent on nothing. Where the marks are above it something has to be done, and trails that are
    merely likely call for the gentler way.
    """
    limit = limits.trail_mm_per_cm2
    if found.lasting is None or found.trail is None or limit is None:
        return found
    likely = verdict_on(found, limits) == "not reached" and found.trail.value > limit
    if not likely and not has_trails(found, limits):
        return found
    return replace(found, density=found.lasting)


def judged(found: Condition, limits: Limits) -> dict[Limited, tuple[Estimate, float]]:
    """The figures that decide, each with its limit."""
    found_and_limit: dict[Limited, tuple[Estimate, float]] = {
        "density": (found.density, limits.density_mm_per_cm2)
    }
    if limits.longest_scratch_mm is not None and found.longest_scratch is not None:
        found_and_limit["longest scratch"] = (found.longest_scratch, limits.longest_scratch_mm)
    return found_and_limit


def verdict_on(found: Condition, limits: Limits) -> Verdict:
    """Whether the figures that decide are all within their limits; the worst one counts."""
    verdicts = [judge(figure, limit) for figure, limit in judged(found, limits).values()]
    for verdict in ("not reached", "undecided"):  # the worse one counts
        if verdict in verdicts:
            return verdict
    return "reached"


def verdict_but_trails(found: Condition, bare: Condition, limits: Limits) -> Verdict:
    """The verdict on `bare`, which is `found`, or `found` without trails.

    As little as half the length of trails is told as such (`defectmap.panel.kinds.in_trails`), the rest
    passes for swirl marks. What as much again of trails would explain is undecided, not above the limit.
    """
    verdict = verdict_on(bare, limits)
    if bare is found or verdict != "not reached" or found.trail is None:
        return verdict
    low = max(0.0, bare.density.low - found.trail.value)
    fewer = replace(bare, density=replace(bare.density, low=low))
    return "not reached" if verdict_on(fewer, limits) == "not reached" else "undecided"


def against(found: Condition, limits: Limits) -> Remark:
    """The figures that decide beside their limits."""
    values: dict[str, Value] = {"density": found.density.found("density"), "limit": limits.density_mm_per_cm2}
    longest, limit = found.longest_scratch, limits.longest_scratch_mm
    if limit is None or longest is None:
        return Remark(code="against", values=values)
    scratch: dict[str, Value] = {"longest": longest.value, "longest_limit": limit}
    return Remark(code="against, with scratch", values={**values, **scratch})


def measured(found: Condition) -> tuple[Remark, ...]:
    """Everything measured, a remark each."""
    quantity: Quantity = "density" if found.calibrated else "relative"
    lines = [Remark(code="measured density", values={"found": found.density.found(quantity)})]
    if found.haze is not None:
        lines.append(Remark(code="measured haze", values={"found": found.haze.found("figure")}))
    if found.trail is not None and found.trail.value > 0:
        lines.append(Remark(code="measured trails", values={"found": found.trail.found(quantity)}))
    if found.longest_scratch is not None:
        code = "measured scratch" if found.calibrated else "measured scratch, no scale"
        lines.append(Remark(code=code, values={"length": found.longest_scratch.value}))
    if found.directions_share is not None:
        lines.append(Remark(code="measured on films", values={"share": 100 * found.directions_share}))
    return tuple(lines)
