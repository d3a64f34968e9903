"""Film thickness: readings to places, places to panels, and what looks odd.

A place is a circle of about 4 cm; what counts is the mean of at least three readings in it, and a reading far
from the others that does not repeat is left out (practice of SSPC-PA 2, ASTM D7091 and ISO 2808 as
summarised in public excerpts; the standards' full texts were not at hand). A magnetic or eddy-current gauge
reads every layer down to the metal: it does not show the clear coat, and on plastic it shows nothing.
"""

from __future__ import annotations

import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from defectmap.trade.facts import PanelHistory, ReadingRecord
from defectmap.trade.stages import READINGS_A_PLACE
from defectmap.trade.tables import Film

MAD_TO_SD = 1.4826  # of a normal sample (Rousseeuw and Croux 1993)
ODD_BEYOND_SD = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceThickness:
    """The film at one place; `mean_um` is None where it is not measured well enough to be used."""

    place: str
    readings_um: tuple[float, ...]
    odd_um: tuple[float, ...]  # left out of the mean
    mean_um: float | None
    sd_um: float | None
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelThickness:
    """The film of one panel over its measured places."""

    panel: str
    places: tuple[PlaceThickness, ...]
    mean_um: float | None
    minimum_um: float | None
    spread_um: float | None  # highest minus lowest place
    remarks: tuple[str, ...]

    @property
    def measured(self) -> bool:
        """Whether at least one place is measured well enough."""
        return self.minimum_um is not None


def place_thickness(place: str, readings_um: Sequence[float], *, gauge_um: float) -> PlaceThickness:
    """Mean of one place without readings that stand apart.

    Parameters
    ----------
    readings_um : sequence of float
        Readings in µm, each above 0.
    gauge_um : float
        What the gauge is uncertain by; readings closer than this are never odd.

    Examples
    --------
    >>> place_thickness("middle", [110, 112, 111], gauge_um=3).mean_um
    111.0
    """
    odd = odd_readings(readings_um, gauge_um=gauge_um)
    kept = [value for value in readings_um if value not in odd]
    remarks = []
    if odd:
        listed = ", ".join(f"{value:.0f}" for value in odd)
        remarks.append(
            f"{place}: {listed} µm stands apart and is left out; read there again (an edge, a body line, "
            "dirt, or a repair under it)."
        )
    if len(kept) < READINGS_A_PLACE:
        remarks.append(
            f"{place}: {len(kept)} usable reading(s); at least {READINGS_A_PLACE} make a measured place."
        )
        return PlaceThickness(
            place=place,
            readings_um=tuple(readings_um),
            odd_um=odd,
            mean_um=None,
            sd_um=None,
            remarks=tuple(remarks),
        )
    return PlaceThickness(
        place=place,
        readings_um=tuple(readings_um),
        odd_um=odd,
        mean_um=statistics.fmean(kept),
        sd_um=statistics.stdev(kept),
        remarks=tuple(remarks),
    )


def odd_readings(readings_um: Sequence[float], *, gauge_um: float) -> tuple[float, ...]:
    """Readings of one place that stand apart from the others and do not repeat.

    A reading is odd when it lies more than three robust standard deviations (median absolute deviation), and
    more than three times the gauge's uncertainty, from the median, and no other reading is near it.
    """
    if len(readings_um) < READINGS_A_PLACE:
        return ()
    middle = statistics.median(readings_um)
    deviation = MAD_TO_SD * statistics.median([abs(value - middle) for value in readings_um])
    limit = max(ODD_BEYOND_SD * deviation, 3 * gauge_um)
    far = [value for value in readings_um if abs(value - middle) > limit]
    return tuple(value for value in far if sum(abs(value - other) <= gauge_um for other in readings_um) == 1)


def panel_thickness(panel: str, readings: Sequence[ReadingRecord], film: Film) -> PanelThickness:
    """The film of one panel, place by place.

    Parameters
    ----------
    readings : sequence of ReadingRecord
        All readings of the panel that were not set aside.
    """
    by_place: dict[str, list[float]] = {}
    for reading in readings:
        by_place.setdefault(reading.place, []).append(reading.value_um)
    places = tuple(
        place_thickness(place, values, gauge_um=film.gauge_um) for place, values in by_place.items()
    )
    means = [place.mean_um for place in places if place.mean_um is not None]
    remarks = [remark for place in places for remark in place.remarks]
    if means:
        remarks += _film_remarks(min(means), max(means), film)
    return PanelThickness(
        panel=panel,
        places=places,
        mean_um=statistics.fmean(means) if means else None,
        minimum_um=min(means, default=None),
        spread_um=max(means) - min(means) if means else None,
        remarks=tuple(remarks),
    )


def vehicle_thickness(histories: Sequence[PanelHistory], film: Film) -> tuple[PanelThickness, ...]:
    """The film of every panel, with a remark where a panel differs from the rest of the vehicle."""
    panels = [panel_thickness(h.panel.name, h.readings, film) for h in histories]
    means = [panel.mean_um for panel in panels if panel.mean_um is not None]
    if len(means) < 3:
        return tuple(panels)  # two panels cannot say which of them is unusual
    usual = statistics.median(means)
    return tuple(_against(panel, usual, film) for panel in panels)


def _against(panel: PanelThickness, usual_um: float, film: Film) -> PanelThickness:
    if panel.mean_um is None or panel.mean_um <= film.repaint_ratio * usual_um:
        return panel
    remark = (
        f"{panel.mean_um:.0f} µm against {usual_um:.0f} µm on the median panel: repainted or filled, "
        "most likely. Its clear coat may be softer, thicker or thinner than assumed."
    )
    return PanelThickness(
        panel=panel.panel,
        places=panel.places,
        mean_um=panel.mean_um,
        minimum_um=panel.minimum_um,
        spread_um=panel.spread_um,
        remarks=(*panel.remarks, remark),
    )


def _film_remarks(lowest_um: float, highest_um: float, film: Film) -> list[str]:
    remarks = []
    if lowest_um < film.thin_um:
        remarks.append(f"{lowest_um:.0f} µm is below {film.thin_um:.0f} µm: too thin for any machine.")
    elif lowest_um < film.whole_um.low:
        remarks.append(
            f"{lowest_um:.0f} µm is below the usual {film.whole_um.low:.0f} µm: corrected before, "
            "or thin from new."
        )
    if highest_um > film.filled_um:
        remarks.append(
            f"{highest_um:.0f} µm is above {film.filled_um:.0f} µm: a filler under the paint is likely."
        )
    return remarks
