"""What polishing took off by the gauge: readings before minus readings after, with their uncertainty."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from defectmap.trade.budget import spent_by
from defectmap.trade.facts import PanelHistory, ReadingRecord
from defectmap.trade.lowest import Session, lowest_of, sessions_of
from defectmap.trade.table_forms import Gauge, Range
from defectmap.trade.thickness import high_readings
from defectmap.trade.tuning import READINGS_A_PLACE
from defectmap.words.remark import Remark, Value


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceRemoval:
    """Before minus after at one place, in µm."""

    place: str
    before_um: float
    after_um: float
    removed_um: float
    uncertainty_um: float  # either way

    @property
    def told_apart(self) -> bool:
        """Whether the gauge can tell the difference from none."""
        return abs(self.removed_um) > self.uncertainty_um


@dataclass(frozen=True, slots=True, kw_only=True)
class Removal:
    """What came off a panel in one job: by the gauge, and as the steps estimate it."""

    panel: str
    places: tuple[PlaceRemoval, ...]
    estimated_um: Range


def removal_of(history: PanelHistory, gauge: Gauge) -> Removal:
    """What came off a panel in this job; places without three readings before and after are left out."""
    by_place: dict[str, list[ReadingRecord]] = {}
    for reading in history.readings:
        by_place.setdefault(reading.place, []).append(reading)
    found = [place_removal(place, sessions_of(own), gauge) for place, own in by_place.items()]
    return Removal(
        panel=history.panel.name,
        places=tuple(one for one in found if one is not None),
        estimated_um=spent_by(history.steps),
    )


def place_removal(place: str, sessions: Sequence[Session], gauge: Gauge) -> PlaceRemoval | None:
    """First readings minus last at one place; None where either are fewer than three.

    The uncertainty is that of a difference of two means, each no better than the gauge (GUM, JCGM 100:2008,
    5.1.2). The two are taken as independent, which is on the wide side: one gauge errs the same way twice.
    """
    if len(sessions) < 2:
        return None
    first, last = (_usable(session, gauge) for session in (sessions[0], sessions[-1]))
    if min(len(first), len(last)) < READINGS_A_PLACE:
        return None
    before, after = statistics.fmean(first), statistics.fmean(last)
    return PlaceRemoval(
        place=place,
        before_um=before,
        after_um=after,
        removed_um=before - after,
        uncertainty_um=math.hypot(gauge.uncertainty_um(before), gauge.uncertainty_um(after)),
    )


def removed(place: PlaceRemoval, estimated_um: Range) -> Remark:
    """What the gauge says came off at a place, beside what the steps estimate."""
    values: dict[str, Value] = {
        "place": place.place,
        "removed": place.removed_um,
        "doubt": place.uncertainty_um,
    }
    code = "removed" if place.told_apart else "removed, not told apart"
    return Remark(code=code, values={**values, "low": estimated_um.low, "high": estimated_um.high})


def _usable(session: Session, gauge: Gauge) -> list[float]:
    """The readings that say what the film is; none while a low one is open."""
    found = lowest_of([session], gauge)
    if found.unexplained_um is not None:
        return []
    values = [reading.value_um for reading in session if not reading.explained]
    high = high_readings(values, gauge)
    return [value for value in values if value not in high and value not in found.not_repeated_um]
