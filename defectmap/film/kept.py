"""What a film's measurement holds beyond that of a photograph, as arrays, and back.

The measurement itself goes the way of every other (`panel.codec`, `panel.arrays`); its `film` says which
frames were used, where each lies, and the share of directions.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, get_args

import numpy as np
from numpy.typing import NDArray

from defectmap.film.assembling import FilmMeasurement
from defectmap.film.directions import LampPlace, Rose
from defectmap.film.strongest import Lines
from defectmap.panel.arrays import Arrays
from defectmap.panel.measurement import MarkKind, PanelMeasurement
from defectmap.panel.paths import Paths

KINDS: tuple[MarkKind, ...] = get_args(MarkKind)
_LINE_ARRAYS = ("um", "beside", "contrast_to_noise", "width_mm")


def film_arrays(film: FilmMeasurement) -> Arrays:
    """Lines with their strength in each frame, lamp places, rose and fused light, by name."""
    return {
        "film_points": film.lines.paths.points,
        "film_lengths": film.lines.paths.lengths,
        **{f"film_{name}": getattr(film.lines, name) for name in _LINE_ARRAYS},
        "film_kinds": np.array([KINDS.index(kind) for kind in film.line_kinds], np.uint8),
        "film_lamps": np.array([[p.x, p.y, p.radius_px] for p in film.lamps]).reshape(-1, 3),
        "film_rose": film.rose.lamp_places,
        "film_zone_share": film.rose.zone_share,
        "film_fused": film.fused,
        "film_scales": np.array([film.rose.cell_px, film.window_scale]),
    }


def film_from(panel: PanelMeasurement, arrays: Mapping[str, NDArray[Any]]) -> FilmMeasurement:
    """Turn `film_arrays` round.

    Parameters
    ----------
    panel : PanelMeasurement
        Of the same film, whole.

    Raises
    ------
    KeyError
        They are not of a film.
    """
    cell_px, window_scale = (float(value) for value in arrays["film_scales"])
    return FilmMeasurement(
        panel=panel,
        lines=Lines(
            paths=Paths(arrays["film_points"], arrays["film_lengths"]),
            **{name: arrays[f"film_{name}"] for name in _LINE_ARRAYS},
        ),
        line_kinds=tuple(KINDS[number] for number in arrays["film_kinds"]),
        lamps=tuple(
            LampPlace(x=float(x), y=float(y), radius_px=float(r)) for x, y, r in arrays["film_lamps"]
        ),
        rose=Rose(lamp_places=arrays["film_rose"], cell_px=cell_px, zone_share=arrays["film_zone_share"]),
        fused=arrays["film_fused"],
        window_scale=window_scale,
    )
