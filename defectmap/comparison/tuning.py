"""All limits of comparability in one table, and how a reason is made of one.

They were set on rendered pairs whose lamp, exposure and paint are known; `python
benchmarks/compare_verdicts.py`
shows how far true pairs and false pairs stay from each.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from defectmap.comparison.outcome import Reason, Topic, Verdict


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


COPY = 0.85  # correlation of fine detail about the hotspot; copies 0.92 and more, two shots by hand below 0.2
CHANGED_SHARE = 0.03  # of small blocks that differ; a copy has none, a camera on a stand sees marks go
EXPOSURE_STOPS = Limit(0.8, 1.6)
UNEXPLAINED_STOPS = Limit(0.7, 1.5)  # halo brighter or darker than the camera's settings explain
HALO_SHAPE_STOPS = Limit(0.07, 0.18)  # RMS of what is left of the halo's difference after one exposure step
RADIUS_STEPS = Limit(0.10, 0.30)  # |ln| of a hotspot's radius over what the other halo leads to expect
WIDTH_STEPS = Limit(math.log(1.25), math.log(1.6))  # |ln| of the ratio of widths of the same marks
SCALE_STEPS = Limit(math.log(1.25), math.log(2.0))
SCALE_ERROR = Limit(0.015, 0.10)  # what the paint says of the two scales, against what was given
COLOUR_STOPS = Limit(0.8, 1.5)  # red or blue against green
BODY_STOPS = Limit(1.0, 2.0)  # paint beside the halo, after the exposure step
UNCOMMON_SHARE = Limit(0.5, 0.8)  # of the smaller zone, not in the other photograph
CONTRAST_LIMIT_STEPS = Limit(math.log(1.6), math.log(8.0))
HAZE_STEPS = math.log(1.5)  # haze this far apart changes the halo by itself, so the halo cannot tell the lamp
MISSING_BULGE = 1 / 3  # of a melted cluster's bulges is left at most where the other photograph has one lamp
MARKS_TO_MATCH = 15  # pieces a side: so many marks of one place do find each other ...
NO_MATCH = 1.4  # ... at least so well; true pairs 1.5 and more
PATTERN_TO_MATCH = 0.93  # so much orange peel beside both hotspots would have been found on each other
MIN_COMMON_CM2 = 5.0


def beyond(topic: Topic, value: float, limit: Limit, *, code: str, **values: str | float) -> Iterator[Reason]:
    """One reason where `value` meets a limit, none where it does not.

    Parameters
    ----------
    topic : Topic
        What was checked.
    value : float
        Grows with the difference; NaN where it is not known.
    limit : Limit
        With care, and no.
    code : str
        Of the reason.
    **values : str or float
        What its sentence needs besides `limit`, which is the one that was met.

    Yields
    ------
    Reason
    """
    verdict = limit.verdict(value)
    if verdict != "yes":
        met = limit.met(value)
        yield Reason(
            code=code, values={"limit": met, **values}, topic=topic, verdict=verdict, value=value, limit=met
        )
