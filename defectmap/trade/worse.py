"""Did polishing make it worse? And which change is too small to matter.

Common practice, no source: more marks or more haze after polishing mean that something is wrong with pad,
product, cloth or cleanliness, or that the paint is soft. A harder step makes that worse still.
"""

from __future__ import annotations

from typing import Literal

from defectmap.trade.condition import Condition
from defectmap.trade.judging import Estimate
from defectmap.trade.table_forms import Effect

Worse = Literal["density", "haze"]
CAUSES = ("dirty pad", "wrong pad", "dirty cloth", "unsuitable product", "soft paint", "dust", "other place")


def worse_in(found: Condition, than: Condition | None, effect: Effect) -> tuple[Worse, ...]:
    """The figures in which `found` is worse than what was there before, by more than matters.

    A density that is higher by the share that matters counts even where the intervals overlap: one photograph
    of a spot often has no interval, and going on is what does the harm.
    """
    if than is None or found.calibrated is not than.calibrated:
        return ()
    if (found.directions_share is None) is not (than.directions_share is None):
        return ()  # a film and a photograph are no pair
    worse: list[Worse] = []
    rise = found.density.value - than.density.value
    if rise >= effect.density_mm_per_cm2 and (
        found.density.low > than.density.high or rise >= effect.density_percent / 100 * than.density.value
    ):
        worse.append("density")
    if haze_rose(found.haze, than.haze, effect):
        worse.append("haze")
    return tuple(worse)


def haze_rose(now: Estimate | None, before: Estimate | None, effect: Effect) -> bool:
    """Whether haze rose beyond doubt, and by as much as matters.

    Examples
    --------
    >>> usual = Effect(
    ...     density_percent=10, density_mm_per_cm2=0.3, haze=0.02, haze_percent=10, alike_ratio=1.5
    ... )
    >>> two = [Estimate(value=v, low=v - 0.001, high=v + 0.001, photographs=3) for v in (0.290, 0.294)]
    >>> haze_rose(two[1], two[0], usual)
    False
    """
    if now is None or before is None:
        return False
    rise = now.value - before.value
    matters = rise >= max(effect.haze, effect.haze_percent / 100 * before.value)
    # without an interval (one photograph) three times what matters is taken as beyond doubt: our own caution
    return matters and (now.low > before.high or rise >= 3 * effect.haze)
