"""The finish score taken apart: which figure costs how many points."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from defectmap.panel import tuning


@dataclass(frozen=True, slots=True, kw_only=True)
class ScorePart:
    """One figure inside the score, and the points that it takes off 100."""

    name: str
    figure: float
    unit: str
    points: float


def score_parts(record: Mapping[str, Any]) -> tuple[ScorePart, ...]:
    """Share the points that are missing from 100 among the figures, by their part of the burden.

    Parameters
    ----------
    record : mapping
        `measure --json` of a measured photograph.

    Returns
    -------
    tuple of ScorePart
        Their points and the score add up to 100.
    """
    density, area = record["density_mm_per_cm2"], record["zone"]["area_cm2"]
    real = record["scale"]["source"] != "none"
    per_area, length = ("mm/cm²", "mm") if real else ("px/100 px²", "px")
    water_spots = sum(spot["kind"] == "water spot" for spot in record.get("spots", ()))
    spots = water_spots / area if area else 0.0  # dust wipes off and does not count
    rows = (
        ("swirl marks", density["swirl"], per_area, tuning.SWIRL_HALF),
        ("scratches", density["scratch"], per_area, tuning.SCRATCH_HALF),
        ("buffer trails", density["trail"], per_area, tuning.SWIRL_HALF),
        ("longest scratch", record["longest_scratch_mm"], length, tuning.LONGEST_HALF_MM),
        ("water spots", spots, "per cm²", tuning.SPOT_HALF_PER_CM2),
    )
    burden = sum(figure / half for _, figure, _, half in rows)
    lost = 100.0 - record["score"]
    return tuple(
        ScorePart(
            name=name, figure=figure, unit=unit, points=lost * figure / half / burden if burden else 0.0
        )
        for name, figure, unit, half in rows
    )
