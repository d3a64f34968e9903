"""Film thickness: readings to places, places to panels; the lowest reading that nothing explains rules.

A place is a circle of about 4 cm with at least three readings (practice of SSPC-PA 2, ASTM D7091 and ISO 2808
as summarised in public excerpts; the full texts were not at hand). Those average a place and drop a reading
that does not repeat; here paint can be lost for good, so a low reading is never dropped or averaged: it stops
polishing until it is read again or explained. A magnetic or eddy-current gauge reads every layer down to the
metal: it does not show the clear coat, and on plastic it shows nothing.
"""

from __future__ import annotations

import statistics
from collections.abc import Sequence
from dataclasses import dataclass, replace

from defectmap.trade.facts import PanelHistory, ReadingRecord
from defectmap.trade.lowest import Lowest, lowest_of, sessions_of
from defectmap.trade.table_forms import FilmThickness, Gauge
from defectmap.trade.tuning import ODD_BEYOND_SD, READINGS_A_PLACE
from defectmap.words.remark import Remark, Value

MAD_TO_SD = 1.4826  # of a normal sample (Rousseeuw and Croux 1993)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceThickness:
    """The film at one place, by its newest readings; `mean_um` is None where there are fewer than three."""

    place: str
    stage: str  # of the newest readings
    readings_um: tuple[float, ...]
    odd_um: tuple[float, ...]  # high ones that do not repeat; not in the mean
    explained_um: tuple[float, ...]  # low ones that an edge or a repair explains; not in the mean
    mean_um: float | None
    lowest_um: float | None  # what rules here
    unexplained_um: float | None  # a low reading that stops polishing until it is read again or explained
    remarks: tuple[Remark, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelThickness:
    """The film of one panel over its places."""

    panel: str
    places: tuple[PlaceThickness, ...]
    mean_um: float | None
    minimum_um: float | None  # the thinnest that is credible or unexplained
    remarks: tuple[Remark, ...]

    @property
    def measured(self) -> bool:
        """Whether at least one place has enough readings."""
        return self.mean_um is not None

    @property
    def unexplained(self) -> tuple[PlaceThickness, ...]:
        """The places where a low reading stops polishing."""
        return tuple(place for place in self.places if place.unexplained_um is not None)


def place_thickness(
    place: str, readings: Sequence[ReadingRecord], gauge: Gauge, *, beside_um: float | None = None
) -> PlaceThickness:
    """What the readings of one place say.

    Parameters
    ----------
    readings : sequence of ReadingRecord
        All of this place, oldest first, over every stage and job.
    gauge : Gauge
        The shop's.
    beside_um : float, optional
        Median of the other places of the panel, which a place of fewer than three readings is held against.
    """
    sessions = sessions_of(readings)
    newest = sessions[-1]
    ruling = lowest_of(sessions, gauge, beside_um=beside_um)
    values = [reading.value_um for reading in newest if not reading.explained]
    odd = high_readings(values, gauge)
    kept = [value for value in values if value not in odd and value not in ruling.not_repeated_um]
    enough = len(kept) >= READINGS_A_PLACE
    return PlaceThickness(
        place=place,
        stage=newest[-1].stage,
        readings_um=tuple(reading.value_um for reading in newest),
        odd_um=odd,
        explained_um=ruling.explained_um,
        mean_um=statistics.fmean(kept) if enough else None,
        lowest_um=ruling.lowest_um,
        unexplained_um=ruling.unexplained_um,
        remarks=tuple(_place_remarks(place, odd, len(kept), ruling)),
    )


def _place_remarks(place: str, odd: Sequence[float], kept: int, ruling: Lowest) -> list[Remark]:
    remarks = [*ruling.remarks(place)]
    remarks += [Remark(code="high reading", values={"place": place, "value": value}) for value in odd]
    if kept < READINGS_A_PLACE:
        values: dict[str, Value] = {"place": place, "readings": kept, "needed": READINGS_A_PLACE}
        remarks.append(Remark(code="too few readings", values=values))
    return remarks


def high_readings(readings_um: Sequence[float], gauge: Gauge) -> tuple[float, ...]:
    """Readings of one place that stand above the others and do not repeat.

    Such a reading is more than three robust standard deviations (median absolute deviation), and more than
    three times what the gauge repeats within, above the median, and no other reading is near it.

    Examples
    --------
    >>> high_readings([110, 112, 111, 150], Gauge(um=3, percent=3, repeat_um=4))
    (150,)
    """
    if len(readings_um) < READINGS_A_PLACE:
        return ()
    middle = statistics.median(readings_um)
    deviation = MAD_TO_SD * statistics.median([abs(value - middle) for value in readings_um])
    limit = max(ODD_BEYOND_SD * deviation, 3 * gauge.repeat_um)
    far = [value for value in readings_um if value - middle > limit]
    return tuple(
        value for value in far if sum(abs(value - other) <= gauge.repeat_um for other in readings_um) == 1
    )


def panel_thickness(
    panel: str, readings: Sequence[ReadingRecord], film: FilmThickness, gauge: Gauge
) -> PanelThickness:
    """The film of one panel, place by place.

    Parameters
    ----------
    readings : sequence of ReadingRecord
        All readings of the panel that were not set aside, oldest first; those of earlier jobs come first.
    """
    by_place: dict[str, list[ReadingRecord]] = {}
    for reading in readings:
        by_place.setdefault(reading.place, []).append(reading)
    found = []
    for place, own in by_place.items():
        others = [r.value_um for r in readings if r.place != place and not r.explained]
        beside = statistics.median(others) if others else None
        found.append(place_thickness(place, own, gauge, beside_um=beside))
    means = [place.mean_um for place in found if place.mean_um is not None]
    lowest = [place.lowest_um for place in found if place.lowest_um is not None]
    remarks = [remark for place in found for remark in place.remarks]
    if lowest:
        remarks += _film_remarks(min(lowest), max(means, default=None), film)
    return PanelThickness(
        panel=panel,
        places=tuple(found),
        mean_um=statistics.fmean(means) if means else None,
        minimum_um=min(lowest, default=None),
        remarks=tuple(remarks),
    )


def life_readings(history: PanelHistory) -> tuple[ReadingRecord, ...]:
    """Every reading of a panel's present paint, those of earlier jobs first; from before a repaint none."""
    painted = history.panel.painted_on or ""
    return tuple(r for r in (*history.earlier_readings, *history.readings) if r.at[:10] >= painted)


def vehicle_thickness(
    histories: Sequence[PanelHistory], film: FilmThickness, gauge: Gauge
) -> tuple[PanelThickness, ...]:
    """The film of every panel, with a remark where a panel differs from the rest of the vehicle."""
    panels = [panel_thickness(h.panel.name, life_readings(h), film, gauge) for h in histories]
    means = [panel.mean_um for panel in panels if panel.mean_um is not None]
    if len(means) < 3:
        return tuple(panels)  # two panels cannot say which of them is unusual
    usual = statistics.median(means)
    return tuple(_against(panel, usual, film) for panel in panels)


def _against(panel: PanelThickness, usual_um: float, film: FilmThickness) -> PanelThickness:
    if panel.mean_um is None or panel.mean_um <= film.repaint_ratio * usual_um:
        return panel
    values = {"mean_um": panel.mean_um, "usual_um": usual_um}
    others = [
        remark for remark in panel.remarks if remark.code != "probably repainted"
    ]  # one of them says it
    return replace(panel, remarks=(*others, Remark(code="thicker than the rest", values=values)))


def _film_remarks(lowest_um: float, highest_um: float | None, film: FilmThickness) -> list[Remark]:
    remarks = []
    if lowest_um < film.thin_um:
        values = {"lowest_um": lowest_um, "thin_um": film.thin_um}
        remarks.append(Remark(code="too thin", values=values))
    elif lowest_um < film.whole_um.low:
        values = {"lowest_um": lowest_um, "usual_um": film.whole_um.low}
        remarks.append(Remark(code="thinner than usual", values=values))
    if highest_um is not None and highest_um > film.whole_um.high:
        code = "probably filled" if highest_um > film.filled_um else "probably repainted"
        limit = film.filled_um if highest_um > film.filled_um else film.whole_um.high
        remarks.append(Remark(code=code, values={"highest_um": highest_um, "limit_um": limit}))
    return remarks
