"""The demo job's photographs: five panels of one invented car, before and after correction."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from shots import Shot

# A night-blue paint; each panel has its own history. Between the stages camera and lamp have moved a little.
_PAINT = Shot(
    name="",
    paint_seed=0,
    shot_seed=0,
    size=(2000, 1500),
    px_per_mm=16.0,
    panel_mm=(165.0, 135.0),
    colour=(0.006, 0.010, 0.030),
    alpha=0.009,
    orange=0.0011,
    iso=80,
    quality=88,
)
_BEFORE: dict[str, dict[str, Any]] = {
    "bonnet": {"swirl_mm_per_cm2": 70.0, "scratches": 4, "taken": "2026:05:12 08:41:10"},
    "roof": {"swirl_mm_per_cm2": 38.0, "scratches": 2, "dust": 20, "taken": "2026:05:12 08:47:31"},
    "left-front-door": {
        "swirl_mm_per_cm2": 55.0,
        "scratches": 9,
        "curve_mm": 2600.0,
        "taken": "2026:05:12 08:55:20",
    },
    "right-rear-quarter": {"swirl_mm_per_cm2": 62.0, "scratches": 6, "taken": "2026:05:12 09:03:55"},
    "boot-lid": {"swirl_mm_per_cm2": 85.0, "scratches": 5, "water_spots": 6, "taken": "2026:05:12 09:12:08"},
}
_AFTER: dict[str, dict[str, Any]] = {
    "bonnet": {"swirls_left": 0.12, "scratches_left": 0.6, "taken": "2026:05:12 15:02:44"},
    "roof": {"swirls_left": 0.09, "scratches_left": 0.6, "taken": "2026:05:12 15:09:02"},
    "left-front-door": {"swirls_left": 0.12, "scratches_left": 0.7, "taken": "2026:05:12 15:18:37"},
    "right-rear-quarter": {"swirls_left": 0.9, "scratches_left": 0.95, "taken": "2026:05:12 15:26:11"},
    "boot-lid": {
        "swirls_left": 0.15,
        "scratches_left": 0.6,
        "water_spots": 0,
        "taken": "2026:05:12 15:33:50",
    },
}
_HANDS: dict[str, tuple[dict[str, Any], dict[str, Any]]] = {  # camera and lamp, before and after
    "bonnet": ({}, {"lamp": (9.0, 3.0, 472.0), "offset": (2.0, -1.5), "turn_deg": 1.2, "ev": 0.15}),
    "roof": (
        {"lamp": (3.0, 10.0, 480.0)},
        {"lamp": (1.0, 6.0, 486.0), "offset": (-2.5, 1.0), "turn_deg": -1.0, "ev": -0.1},
    ),
    "left-front-door": (
        {"lamp": (-7.0, 5.0, 476.0)},
        {"lamp": (-4.0, 8.0, 482.0), "offset": (1.5, 2.0), "turn_deg": 0.8, "ev": 0.1},
    ),
    "right-rear-quarter": (
        {"lamp": (5.0, -9.0, 480.0)},
        {"lamp": (8.0, -6.0, 474.0), "offset": (-1.0, -2.0), "turn_deg": -1.4, "ev": -0.15},
    ),
    "boot-lid": (
        {"lamp": (10.0, 7.0, 484.0)},
        {"lamp": (6.0, 9.0, 478.0), "offset": (2.0, 2.5), "turn_deg": 1.5, "ev": 0.12},
    ),
}


def demo_shots() -> list[Shot]:
    """Ten shots: bonnet, roof, left front door, right rear quarter, boot lid, each before and after."""
    made = list[Shot]()
    for seed, (panel, history) in enumerate(_BEFORE.items(), start=11):
        first, second = _HANDS[panel]
        before = replace(
            _PAINT, name=f"{panel}-before", paint_seed=seed, shot_seed=seed * 10, **history, **first
        )
        after = {**_AFTER[panel], **second}
        made += [before, replace(before, name=f"{panel}-after", shot_seed=seed * 10 + 1, **after)]
    return made
