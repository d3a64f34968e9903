"""Has a figure reached its target? Judged by its interval, never by the point."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from defectmap.comparison.interval import mean_half_width, student_factor
from defectmap.words.remark import Remark

Verdict = Literal["reached", "not reached", "undecided"]
Quantity = Literal[
    "density", "length", "figure", "relative"
]  # what it is a figure of; without a scale: relative


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A figure with its 95 % interval; `photographs` is how many spots it rests on."""

    value: float
    low: float
    high: float
    photographs: int
    of: Literal["photograph", "film"] = "photograph"

    def found(self, quantity: Quantity) -> Remark:
        """The figure with its interval, as something to be said."""
        values = {"value": self.value, "low": self.low, "high": self.high}
        if math.isinf(self.high):
            alone = "alone" if self.of == "photograph" else "alone, film"
            return Remark(code=f"found {quantity} {alone}", values={"value": self.value})
        code = f"one {self.of}" if self.photographs == 1 else f"{self.of}s"
        taken = Remark(code=code, values={"number": self.photographs})
        return Remark(code=f"found {quantity}", values={**values, "photographs": taken})


def estimate(values: Sequence[float], *, repeatability: float | None = None) -> Estimate:
    """Mean of several spots with its 95 % interval.

    With two spots or more the interval is Student's t on their scatter (GUM, JCGM 100:2008, 4.2.3 and G.3),
    and never narrower than the repeatability of the method alone would make it. With one spot it is the
    repeatability; with one spot and no known repeatability it has no upper end.

    Parameters
    ----------
    values : sequence of float
        One figure a spot, each 0 or above.
    repeatability : float, optional
        Coefficient of variation of one photograph, from the shop's own repeat series.

    Raises
    ------
    ValueError
        There is no value, or one is negative or not finite.
    """
    if not values or not all(math.isfinite(v) and v >= 0 for v in values):
        raise ValueError(f"need at least one figure, each 0 or above, got {list(values)!r}")
    count = len(values)
    mean = math.fsum(values) / count
    known = (
        None if repeatability is None else student_factor(math.inf) * repeatability * mean / math.sqrt(count)
    )
    if count == 1:
        half = math.inf if known is None else known
    else:
        half = max(mean_half_width(values), known or 0.0)
    return Estimate(value=mean, low=max(0.0, mean - half), high=mean + half, photographs=count)


def judge(found: Estimate, target: float) -> Verdict:
    """Compare an interval with the most that was agreed.

    Examples
    --------
    >>> judge(Estimate(value=2.0, low=1.5, high=2.5, photographs=3), 3.0)
    'reached'
    >>> judge(Estimate(value=2.9, low=2.4, high=3.4, photographs=3), 3.0)
    'undecided'
    """
    if found.high <= target:
        return "reached"
    return "not reached" if found.low > target else "undecided"
