"""Grooves in the clear coat: what they are, and seeded fields of them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

GrooveKind = Literal["swirl", "scratch", "trail", "water spot"]
PointsMm = NDArray[np.float64]

_STEP_MM = 0.5  # between points of a drawn arc; sagitta 1 um on a 25 mm radius
_MAX_SLOPE = 0.6  # beyond this the small-slope lobe is no longer a fair picture of the light


@dataclass(frozen=True, slots=True, kw_only=True)
class Groove:
    """One line cut into the coat, its cross profile one period of a cosine (rounded, no sharp corners).

    `slope_rad` is the steepest tilt of its walls; over the width the tilt runs through a sine, so shallow and
    steep tilts are both met, the steepest most often.
    """

    points: PointsMm  # (N, 2) row, column in mm on the panel, N >= 2
    width_mm: float
    slope_rad: float
    kind: GrooveKind

    def __post_init__(self) -> None:
        """Refuse what cannot be drawn."""
        if self.points.ndim != 2 or self.points.shape[1] != 2 or len(self.points) < 2:
            raise ValueError(f"points must be (N, 2) with N >= 2, got shape {self.points.shape}")
        if not np.isfinite(self.points).all():
            raise ValueError("points must be finite")
        if not np.diff(self.points, axis=0).any(axis=1).all():
            raise ValueError("two neighbouring points of a groove are the same")
        if not self.width_mm > 0:
            raise ValueError(f"width_mm must be above 0, got {self.width_mm!r}")
        if not 0 < self.slope_rad <= _MAX_SLOPE:
            raise ValueError(f"slope_rad must be in (0, {_MAX_SLOPE}], got {self.slope_rad!r}")

    @property
    def length_mm(self) -> float:
        """Length of the polyline."""
        return float(np.linalg.norm(np.diff(self.points, axis=0), axis=1).sum())


def lengths_mm(grooves: Iterable[Groove]) -> dict[GrooveKind, float]:
    """Total length of all grooves of each kind that occurs, in mm."""
    totals: dict[GrooveKind, float] = {}
    for groove in grooves:
        totals[groove.kind] = totals.get(groove.kind, 0.0) + groove.length_mm
    return totals


def swirls(
    seed: int,
    *,
    density_mm_per_cm2: float,
    panel_mm: tuple[float, float] = (115.0, 150.0),
    length_mm: float = 16.0,
    radius_mm: float = 80.0,
    width_mm: float = 0.03,
    slope_rad: float = 0.048,
) -> tuple[Groove, ...]:
    """Fine arcs in every direction, as washing and wiping leave them.

    Parameters
    ----------
    seed : int
        The same seed and options give the same grooves.
    density_mm_per_cm2 : float
        Length of groove per area of panel; the total is met exactly. 0 gives none.
    panel_mm : (float, float)
        Height and width of the panel. Grooves start inside it and may run over its edge.
    length_mm, radius_mm, width_mm, slope_rad : float
        Medians of the spread of single grooves (log-normal; some are nearly straight).

    Returns
    -------
    tuple of Groove
        Invented but plausible: common practice, no source.
    """
    rng = np.random.default_rng([seed, 1])
    target_mm = _target_mm(density_mm_per_cm2, panel_mm)
    made: list[Groove] = []
    while target_mm > 1e-9:
        length = min(length_mm * rng.lognormal(0.0, 0.5), target_mm)
        radius = radius_mm * rng.lognormal(0.0, 0.9)
        points = _arc(rng, length, radius, panel_mm)
        width = width_mm * rng.lognormal(0.0, 0.4)
        slope = float(np.clip(slope_rad * rng.lognormal(0.0, 0.5), 0.01, 0.3))
        made.append(Groove(points=points, width_mm=width, slope_rad=slope, kind="swirl"))
        target_mm -= length
    return tuple(made)


def scratches(
    seed: int,
    *,
    count: int,
    panel_mm: tuple[float, float] = (115.0, 150.0),
    length_mm: float = 30.0,
    width_mm: float = 0.06,
    slope_rad: float = 0.12,
) -> tuple[Groove, ...]:
    """Single, wider, steeper, nearly straight lines; options as in `swirls`."""
    rng = np.random.default_rng([seed, 2])
    made = []
    for _ in range(count):
        length = length_mm * rng.lognormal(0.0, 0.4)
        points = _arc(rng, length, rng.uniform(150.0, 900.0), panel_mm)
        width = width_mm * rng.lognormal(0.0, 0.3)
        slope = float(np.clip(slope_rad * rng.lognormal(0.0, 0.3), 0.03, 0.4))
        made.append(Groove(points=points, width_mm=width, slope_rad=slope, kind="scratch"))
    return tuple(made)


def trails(
    seed: int,
    *,
    density_mm_per_cm2: float,
    centre_mm: tuple[float, float] = (120.0, 60.0),
    panel_mm: tuple[float, float] = (115.0, 150.0),
    width_mm: float = 0.015,
    slope_rad: float = 0.04,
) -> tuple[Groove, ...]:
    """Very fine arcs that share a centre to within their scatter, as a rotary polisher leaves them."""
    rng = np.random.default_rng([seed, 3])
    target_mm = _target_mm(density_mm_per_cm2, panel_mm)
    made: list[Groove] = []
    while target_mm > 1e-9:
        length = min(30.0 * rng.lognormal(0.0, 0.4), target_mm)
        middle = rng.uniform(-0.5, 0.5, 2) * panel_mm
        towards = np.asarray(centre_mm) + rng.normal(0.0, 3.0, 2) - middle
        radius = max(float(np.hypot(*towards)), 20.0)
        points = _arc_about(middle, math.atan2(towards[1], towards[0]), length, radius)
        width = width_mm * rng.lognormal(0.0, 0.3)
        made.append(Groove(points=points, width_mm=width, slope_rad=slope_rad, kind="trail"))
        target_mm -= length
    return tuple(made)


def ring(
    centre_mm: tuple[float, float], *, diameter_mm: float, width_mm: float = 0.25, slope_rad: float = 0.03
) -> Groove:
    """The etched rim of a dried drop: a closed, broad, shallow groove of kind ``water spot``."""
    turn = np.linspace(0.0, 2 * math.pi, max(24, math.ceil(math.pi * diameter_mm / 0.2)) + 1)
    points = np.asarray(centre_mm) + diameter_mm / 2 * np.column_stack([np.cos(turn), np.sin(turn)])
    return Groove(points=points, width_mm=width_mm, slope_rad=slope_rad, kind="water spot")


def polished(
    grooves: Sequence[Groove],
    *,
    seed: int,
    keep_share: float,
    shallower: float = 1.0,
    kinds: tuple[GrooveKind, ...] = ("swirl", "trail"),
) -> tuple[Groove, ...]:
    """What is left after correction: a random share of the grooves of `kinds`; other kinds stay.

    `shallower` in (0, 1] scales width and slope of the kept ones of `kinds`.
    """
    if not 0 <= keep_share <= 1:
        raise ValueError(f"keep_share must be in 0..1, got {keep_share!r}")
    if not 0 < shallower <= 1:
        raise ValueError(f"shallower must be in (0, 1], got {shallower!r}")
    keep = np.random.default_rng([seed, 4]).random(len(grooves)) < keep_share
    left = []
    for groove, kept in zip(grooves, keep, strict=True):
        if groove.kind not in kinds:
            left.append(groove)
        elif kept:
            width, slope = groove.width_mm * shallower, groove.slope_rad * shallower
            left.append(replace(groove, width_mm=width, slope_rad=slope))
    return tuple(left)


def _target_mm(density_mm_per_cm2: float, panel_mm: tuple[float, float]) -> float:
    if not (math.isfinite(density_mm_per_cm2) and density_mm_per_cm2 >= 0):
        raise ValueError(f"density_mm_per_cm2 must be 0 or more, got {density_mm_per_cm2!r}")
    return density_mm_per_cm2 * panel_mm[0] * panel_mm[1] / 100


def _arc(rng: np.random.Generator, length: float, radius: float, panel_mm: tuple[float, float]) -> PointsMm:
    middle = rng.uniform(-0.5, 0.5, 2) * panel_mm
    return _arc_about(middle, rng.uniform(0.0, 2 * math.pi), length, max(radius, length / 3))


def _arc_about(middle: NDArray[np.float64], towards: float, length: float, radius: float) -> PointsMm:
    """Arc of `length` whose middle point is `middle` and whose centre lies at angle `towards` from there."""
    half = length / radius / 2
    turn = np.linspace(-half, half, max(2, math.ceil(length / _STEP_MM) + 1)) + towards + math.pi
    centre = middle + radius * np.array([math.cos(towards), math.sin(towards)])
    return np.asarray(centre + radius * np.column_stack([np.cos(turn), np.sin(turn)]), np.float64)
