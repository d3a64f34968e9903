"""The most that may be left on a panel: what was agreed with the customer, else the shop's usual aim."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Literal

from defectmap.words.remark import Remark

Limited = Literal["density", "haze", "trail", "longest scratch"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """The most that may be left; None leaves a figure free."""

    density_mm_per_cm2: float
    haze: float | None = None
    trail_mm_per_cm2: float | None = None
    longest_scratch_mm: float | None = None
    agreed: frozenset[Limited] = frozenset()  # the others come from the shop's tables
    least_density_mm_per_cm2: float = 0.0  # less cannot be shown
    least_haze: float = 0.0

    @property
    def out_of_reach(self) -> Mapping[Limited, Mapping[str, float]]:
        """The limits that nobody can reach, each with the least that can be."""
        found: dict[Limited, Mapping[str, float]] = {}
        if self.density_mm_per_cm2 < self.least_density_mm_per_cm2:
            found["density"] = {"limit": self.density_mm_per_cm2, "least": self.least_density_mm_per_cm2}
        if self.haze is not None and self.haze < self.least_haze:
            found["haze"] = {"limit": self.haze, "least": self.least_haze}
        return found

    def for_marks(self) -> Remark:
        """What the marks are held against: their density, and the longest scratch where that has a limit."""
        return self.aim(["density"] if self.longest_scratch_mm is None else ["density", "longest scratch"])

    def aim(self, of: Collection[Limited]) -> Remark:
        """What these figures are held against; never says that more was agreed than was.

        Examples
        --------
        >>> Limits(density_mm_per_cm2=3.0).aim(["density"]).code
        'usual aim'
        >>> Limits(density_mm_per_cm2=3.0, agreed=frozenset({"density"})).aim(["density"]).code
        'agreed'
        """
        agreed = [one for one in of if one in self.agreed]
        if len(agreed) == len(of):
            return Remark(code="agreed")
        if not self.agreed:
            return Remark(code="usual aim")
        if not agreed:
            return Remark(code="usual aim for", values={"figures": _listed(of)})
        return Remark(code="agreed in part", values={"figures": _listed(agreed)})


def _listed(of: Collection[Limited]) -> tuple[Remark, ...]:
    return tuple(Remark(code=f"limited {one}") for one in of)
