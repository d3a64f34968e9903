"""Every figure that comparing rests on: its unit, what it does, where it is from and what it weighs.

The limits of comparability were set on rendered pairs whose lamp, exposure and paint are known; `python
benchmarks/compare_verdicts.py` shows how far true pairs and false pairs stay from each. What is carried into
the interval was measured on rendered pairs that were processed on one side
(`benchmarks/compare_processing.py`), and is held to the share of intervals that hold the truth
(`benchmarks/compare_coverage.py`).
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
LOST_LIGHT = Limit(0.05, 0.25)  # |ln| of the ratio of light that is read of the same marks, by their widths
OFF_ROUND = Limit(0.2, 0.5)  # share of bright marks that do not run round the lamp
ROUND_DEG, ROUND_MARKS = 30.0, 15  # from the tangent about the hotspot; fewer marks say nothing
SCALE_STEPS = Limit(math.log(1.6), math.log(3.0))  # |ln| of the ratio of px/mm; widths in µm outlast it
SCALE_ERROR = Limit(0.015, 0.10)  # what the paint says of the two scales, against what was given
COLOUR_STOPS = Limit(0.8, 1.5)  # red or blue against green
BODY_STOPS = Limit(1.0, 2.0)  # paint beside the halo, after the exposure step
UNCOMMON_SHARE = Limit(0.5, 0.8)  # of the smaller zone, not in the other photograph
STANDARD_UNSEEN = Limit(1.0, 2.0)  # faintest width that a photograph shows, over the standard mark
HAZE_STEPS = math.log(1.5)  # haze this far apart changes the halo by itself, so the halo cannot tell the lamp
MISSING_BULGE = 1 / 3  # of a melted cluster's bulges is left at most where the other photograph has one lamp
MARKS_TO_MATCH = 15  # pieces a side: so many marks of one place do find each other ...
NO_MATCH = 1.4  # ... at least so well; true pairs 1.5 and more
PATTERN_TO_MATCH = 0.93  # so much orange peel beside both hotspots would have been found on each other
MIN_COMMON_CM2 = 5.0

# -- tone curves: one may explain how two halos differ, where both hotspots are equally wide
TONE_LEAST = 0.08  # |ln| of the slope between two halos' logarithms of light; phones alike stay below 0.03
TONE_MOST = 0.8  # |ln|; no camera bends light so far, a lamp may
TONE_REST_STOPS = 0.12  # RMS that the bent halo may be off
TONE_RADIUS = 0.08  # |ln| of the ratio of the hotspots' radii

# -- traces of processing in one photograph
OVERSHOOT_STEP = 0.035  # of a mark's height; sharpened phones 0.04 to 0.07, others -0.02 to 0.02
SMOOTH_CODES = 0.6  # steps of an 8-bit file: less grain than rounding and a sensor leave together ...
SMOOTH_CORRELATION = (
    0.66  # ... and as like its neighbour: denoised or squeezed (rendered 0.53 to 0.60 if not)
)
GRAIN_BLOCK_PX = 16
COPY_SHARE = 0.75  # of the other side's pixels

# -- what is carried into the interval, as standard deviations of ln(equivalent width) between two photographs
SAME_STRENGTH = 0.02  # one camera at one setting
CROSS_STRENGTH = 0.08  # two cameras, or another size of picture
OVERSHOOT_STRENGTH = (
    3.0  # for each unit of overshoot: sharpening is done on codes, which adds light to a line
)
SMOOTH_STRENGTH = 0.18  # noise reduction takes the weakest marks as well
TONE_STRENGTH = 0.45  # of |ln slope|: a curve bends widths by all of it or, done locally, by nothing

# -- sampling
BLOCK_SECTORS = 3  # of 36: blocks of 30 degrees, so that most marks stay in one piece
FEW_MARKS = 8  # fewer scatter at least as drawing lots would


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
