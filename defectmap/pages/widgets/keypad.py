"""A number pad for gauge readings: several places in a row, a wrong one struck out where it stands."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from defectmap.pages.browser import component, keeper, taken_up
from defectmap.trade.tuning import READINGS_A_PLACE

Readings = tuple[tuple[str, tuple[float, ...]], ...]
PLACES = ("middle", "front", "rear", "left", "right")
LONGEST_NAME, MOST = 40, 50


def reading_pad(places: Sequence[str], *, unit: str, done: int, key: str) -> Readings:
    """Draw it; the readings that were saved since it was last asked, place by place.

    Parameters
    ----------
    places : sequence of str
        Names of places, the usual one first.
    done : int
        Changes when readings were taken, and so empties the pad; what was refused stays to be put right.
    """
    component("keypad")(
        data={
            "places": list(places),
            "unit": unit,
            "done": done,
            "a_place": READINGS_A_PLACE,
            "label": "Number pad: type a reading, Enter takes it",
            "next": "Take this reading",
            "save": "Save",
            "strike": "strike out",
            "back": "take back in",
        },
        key=key,
        on_readings_change=keeper(key, "readings"),
    )
    return readings_from(taken_up(key, "readings"))


def readings_from(given: object) -> Readings:
    """What a browser hands over, checked; nothing where it makes no sense.

    Examples
    --------
    >>> readings_from({"readings": {"middle": [112, 110.5]}, "number": "1"})
    (('middle', (112.0, 110.5)),)
    >>> readings_from({"readings": {"middle": ["x"]}})
    ()
    """
    rows = given.get("readings") if isinstance(given, Mapping) else None
    if not isinstance(rows, Mapping):
        return ()
    found = []
    for place, values in rows.items():
        if not isinstance(place, str) or not isinstance(values, list) or not 0 < len(values) <= MOST:
            return ()
        if not all(isinstance(v, int | float) and math.isfinite(v) for v in values):
            return ()
        found.append((place[:LONGEST_NAME], tuple(float(v) for v in values)))
    return tuple(found)
