"""From where two photographs are compared with care, and from where not at all."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Verdict = Literal["yes", "with care", "no"]


@dataclass(frozen=True, slots=True)
class Limit:
    """At `care` and beyond, with care; at `no` and beyond, no."""

    care: float
    no: float

    def verdict(self, value: float) -> Verdict:
        """Which side of the limits `value` is on; an unknown value (NaN) is no reason against."""
        return "no" if value >= self.no else "with care" if value >= self.care else "yes"

    def met(self, value: float) -> float:
        """The limit that `value` is at or beyond."""
        return self.no if value >= self.no else self.care
