"""Which reading rules a place: the lowest that nothing explains, over every stage and job.

Paint does not grow back. So the newest readings rule, a low one stops polishing until two further readings at
that very point agree or an edge or a repair explains it, and a newer reading that is higher than the gauge
allows does not outrank an older one (our own caution, no source).
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from defectmap.trade.facts import ReadingRecord
from defectmap.trade.stages import STAGE_NAMES
from defectmap.trade.table_forms import Gauge
from defectmap.trade.tuning import READINGS_A_PLACE, REPEATS_NEEDED
from defectmap.words.remark import Remark, Value

Session = tuple[ReadingRecord, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lowest:
    """What rules a place."""

    lowest_um: float | None
    unexplained_um: float | None = None
    not_repeated_um: tuple[float, ...] = ()  # low, and two further readings there said otherwise
    explained_um: tuple[float, ...] = ()
    grown_um: tuple[float, float] | None = None  # older and newer lowest, where paint would have grown

    def remarks(self, place: str) -> list[Remark]:
        """What there is to say about it."""
        remarks = []
        if self.unexplained_um is not None:
            values: dict[str, Value] = {
                "place": place,
                "value": self.unexplained_um,
                "needed": REPEATS_NEEDED,
            }
            remarks.append(Remark(code="unexplained low reading", values=values))
        for code, found in (
            ("low reading not repeated", self.not_repeated_um),
            ("low reading explained", self.explained_um),
        ):
            remarks += [Remark(code=code, values={"place": place, "value": value}) for value in found]
        if self.grown_um is not None:
            older, newer = self.grown_um
            remarks.append(
                Remark(code="paint cannot grow", values={"place": place, "older": older, "newer": newer})
            )
        return remarks


def sessions_of(readings: Sequence[ReadingRecord]) -> list[Session]:
    """The readings of one place by job and stage, the newest last; late entries join their stage."""
    jobs = list(dict.fromkeys(reading.job for reading in sorted(readings, key=lambda one: one.at)))
    grouped: dict[tuple[int, int], list[ReadingRecord]] = {}
    for reading in readings:
        order = STAGE_NAMES.index(reading.stage) if reading.stage in STAGE_NAMES else -1
        grouped.setdefault((jobs.index(reading.job), order), []).append(reading)
    return [tuple(grouped[key]) for key in sorted(grouped)]


def lowest_of(sessions: Sequence[Session], gauge: Gauge, *, beside_um: float | None = None) -> Lowest:
    """The reading that rules a place.

    Parameters
    ----------
    sessions : sequence of tuple of ReadingRecord
        As `sessions_of` gives them.
    gauge : Gauge
        The shop's.
    beside_um : float, optional
        Median of the panel's other places.
    """
    each = [_session_lowest(session, gauge, beside_um) for session in sessions]
    ruling, grown = each[-1].lowest_um, None
    for older in each[:-1]:
        if older.lowest_um is None:
            continue
        if ruling is None:
            ruling = older.lowest_um
            continue
        doubt = math.hypot(gauge.uncertainty_um(older.lowest_um), gauge.uncertainty_um(ruling))
        if ruling - older.lowest_um > doubt:
            grown = (older.lowest_um, ruling)
            ruling = older.lowest_um
    open_ones = [one.unexplained_um for one in each if one.unexplained_um is not None]
    return Lowest(
        lowest_um=min([*open_ones, *([] if ruling is None else [ruling])], default=None),
        unexplained_um=min(open_ones, default=None),
        not_repeated_um=tuple(value for one in each for value in one.not_repeated_um),
        explained_um=tuple(value for one in each for value in one.explained_um),
        grown_um=grown,
    )


def _session_lowest(session: Session, gauge: Gauge, beside_um: float | None) -> Lowest:
    explained = tuple(reading.value_um for reading in session if reading.explained)
    first = [r.value_um for r in session if not r.explained and not r.again]
    again = [r.value_um for r in session if not r.explained and r.again]
    dropped: list[float] = []
    while first or again:
        values = sorted([*first, *again])
        low = values[0]
        repeats = _repeats(values, gauge)
        if repeats >= REPEATS_NEEDED or not _stands_apart(values, gauge, beside_um):
            return _found(low, dropped, explained)
        pair = _agreeing(again, gauge)
        if pair is not None and min(pair) - low <= gauge.repeat_um:
            return _found(low, dropped, explained)
        if pair is None or repeats or low not in first:
            return Lowest(
                lowest_um=low, unexplained_um=low, not_repeated_um=tuple(dropped), explained_um=explained
            )
        dropped.append(low)
        first.remove(low)
        for value in pair:  # two further readings settle one low one, not several
            again.remove(value)
            first.append(value)
    return Lowest(lowest_um=None, explained_um=explained)


def _found(low: float, dropped: Sequence[float], explained: tuple[float, ...]) -> Lowest:
    return Lowest(lowest_um=low, not_repeated_um=tuple(dropped), explained_um=explained)


def _repeats(values: Sequence[float], gauge: Gauge) -> int:
    """How many further readings agree with the lowest; `values` in order."""
    return sum(value - values[0] <= gauge.repeat_um for value in values) - 1


def _stands_apart(values: Sequence[float], gauge: Gauge, beside_um: float | None) -> bool:
    """Whether a reading lies below the usual by more than the gauge is uncertain by, and is not repeated.

    Asked of the lowest, and of each that would be the lowest without those still below it: one further low
    reading drags the usual down, and must not lift the stop that two are needed for. `values` in order.
    """
    for start in range(len(values)):
        rest = values[start:]
        usual = statistics.median(rest) if len(rest) >= READINGS_A_PLACE else beside_um
        apart = usual is not None and usual - rest[0] > gauge.uncertainty_um(usual)
        if apart and _repeats(rest, gauge) < REPEATS_NEEDED:
            return True
    return False


def _agreeing(again: Sequence[float], gauge: Gauge) -> tuple[float, float] | None:
    """The lowest two second looks that agree with one another."""
    pairs = [pair for pair in combinations(sorted(again), 2) if pair[1] - pair[0] <= gauge.repeat_um]
    return pairs[0] if pairs else None
