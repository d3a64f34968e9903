"""Where in its picture a film was blind, and to which side of that place the lamp has to go next time.

A groove lights up where the lamp's reflection stands aside of it (`directions`), so a lamp to one side of a
place shows there the grooves that run across that side. Of eight sides the one is named that would show
most of what is missing; of two opposite ones, which show the same, the one that the sweep left emptier.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from defectmap.film import tuning
from defectmap.film.directions import BIN_RAD, LampPlace, Rose
from defectmap.panel.measurement import BlindPlace, LampSide

_SIDES: dict[LampSide, tuple[float, float]] = {  # x right, y down
    "right": (1, 0),
    "lower right": (1, 1),
    "below": (0, 1),
    "lower left": (-1, 1),
    "left": (-1, 0),
    "upper left": (-1, -1),
    "above": (0, -1),
    "upper right": (1, -1),
}


def blind_places(rose: Rose, lamps: Sequence[LampPlace], shape: tuple[int, ...]) -> tuple[BlindPlace, ...]:
    """Find the ninths of the picture in which a sweep missed many directions, the blindest first.

    Parameters
    ----------
    lamps : sequence of LampPlace
        Of the sweep, on the map.
    shape : (int, int)
        Rows and columns of the map in px.
    """
    height, width = shape[:2]
    radius = float(np.median([lamp.radius_px for lamp in lamps])) if lamps else 0.0
    at = np.array([[lamp.x, lamp.y] for lamp in lamps]).reshape(-1, 2)
    found = []
    for rows, down in zip(np.array_split(np.arange(rose.covered.shape[0]), 3), range(3), strict=True):
        for columns, right in zip(np.array_split(np.arange(rose.covered.shape[1]), 3), range(3), strict=True):
            if not len(rows) or not len(columns):
                continue
            shown = rose.covered[np.ix_(rows, columns)].mean(axis=(0, 1))
            if shown.mean() >= tuning.ENOUGH_DIRECTIONS:
                continue
            x, y = (right + 0.5) / 3, (down + 0.5) / 3
            side = _side(1 - shown, np.array([x * width, y * height]), at, radius, (width, height))
            found.append(
                BlindPlace(x_share=x, y_share=y, directions_share=float(shown.mean()), lamp_side=side)
            )
    return tuple(sorted(found, key=lambda place: place.directions_share))


def _side(
    missing: NDArray[np.float64],
    middle: NDArray[np.float64],
    lamps: NDArray[np.float64],
    radius: float,
    size: tuple[int, int],
) -> LampSide:
    """The side from which a lamp would show most of what is missing, and where none has been."""
    angle = (np.arange(tuning.DIRECTION_BINS) + 0.5) * BIN_RAD
    away = radius * (tuning.LIT_FROM_RADII + tuning.LIT_TO_RADII) / 2
    most_along = tuning.LIT_ALONG_RADII * radius / away if away else 1.0

    def worth(side: LampSide) -> tuple[float, float]:
        towards = np.array(_SIDES[side]) / np.hypot(*_SIDES[side])
        along = np.abs(np.cos(angle) * towards[0] + np.sin(angle) * towards[1])
        there = middle + away * towards
        inside = np.clip(there, 0, size)  # the reflection has to stay in the picture
        emptiness = float(np.hypot(*(lamps - inside).T).min()) if len(lamps) else 0.0
        return round(float(missing[along <= most_along].sum()), 2), emptiness - float(
            np.hypot(*(there - inside))
        )

    return max(_SIDES, key=worth)
