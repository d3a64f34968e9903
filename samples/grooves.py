"""Random grooves in clear coat, and the slope map that stands for them.

Panel coordinates are (x, y) in mm: x right, y up, (0, 0) in the middle of the panel. A slope map holds dz/dx
and dz/dy of the coat's surface, row 0 at the top, one value a texel.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, gaussian_filter1d

Floats = NDArray[np.float64]
Map = NDArray[np.float32]

STEP_MM = 0.05  # along a centreline


@dataclass(frozen=True, slots=True, kw_only=True)
class Groove:
    """One groove: where it runs and what its cross profile is."""

    kind: Literal["swirl", "scratch"]
    points_mm: Floats  # (N, 2) x, y, about STEP_MM apart
    width_mm: float
    slope: float  # steepest wall, tangent of its angle
    sharpness: float  # 0: sine-shaped bottom, 1: nearly a V
    lean: float  # -0.5..0.5: how much steeper one wall is than the other
    depth_along: Floats  # (N,) share of the full slope, 0 at tapered ends

    @property
    def length_mm(self) -> float:
        """Length of the centreline."""
        return float(np.linalg.norm(np.diff(self.points_mm, axis=0), axis=1).sum())

    def wall_slope(self, across: Floats) -> Floats:
        """Slope of the surface at `across` (-1..1, in half widths), walls on both sides rising outward."""
        inside = np.clip(across, -1, 1)
        sine = np.sin(np.pi * inside)
        vee = np.tanh(inside / 0.25) * (1 - np.abs(inside) ** 6)
        shape = (1 - self.sharpness) * sine + self.sharpness * vee
        return np.where(np.abs(across) < 1, self.slope * shape * (1 + self.lean * np.sign(across)), 0.0)


def _course(
    rng: np.random.Generator, start: Floats, length_mm: float, bend_per_mm: float, wobble: float
) -> Floats:
    """Centreline of given length through `start`, of about constant curvature."""
    count = max(int(length_mm / STEP_MM), 4)
    drift = gaussian_filter1d(rng.normal(size=count), 4 / STEP_MM, mode="nearest") * wobble
    heading = rng.uniform(0, 2 * np.pi) + np.cumsum(np.full(count, bend_per_mm) + drift) * STEP_MM
    path = np.cumsum(np.c_[np.cos(heading), np.sin(heading)] * STEP_MM, axis=0)
    return start + path - path[count // 2]


def _depth(rng: np.random.Generator, count: int, unevenness: float) -> Floats:
    """Share of the full depth along a groove: tapered ends, slowly varying between them."""
    t = np.linspace(0, 1, count)
    ends = rng.uniform(0.04, 0.25, 2)
    taper = np.clip(t / ends[0], 0, 1) * np.clip((1 - t) / ends[1], 0, 1)
    wave = gaussian_filter1d(rng.normal(size=count), 2 / STEP_MM, mode="nearest")
    return np.sqrt(taper) * np.clip(1 + unevenness * wave / max(float(wave.std()), 1e-9), 0.2, 1.5)


def _swirl(rng: np.random.Generator, size_mm: tuple[float, float]) -> list[Groove]:
    """One arc, or a bunch of near-parallel ones as a contaminated pad or cloth leaves them."""
    radius = float(np.clip(rng.lognormal(np.log(60), 0.7), 12, 600))
    length = float(np.clip(rng.lognormal(np.log(16), 0.55), 4, 60))
    start = rng.uniform(-0.5, 0.5, 2) * size_mm
    course = _course(rng, start, length, rng.choice([-1, 1]) / radius, 0.02)
    bunch = 1 if rng.random() < 0.75 else int(rng.integers(2, 5))
    made = []
    for index in range(bunch):
        heading = course[-1] - course[0]
        aside = np.array([-heading[1], heading[0]]) / (np.linalg.norm(heading) + 1e-9)
        shifted = course + aside * index * rng.uniform(0.25, 1.2) + rng.normal(0, 0.3, 2) * (index > 0)
        cut = slice(int(rng.uniform(0, 0.3) * len(course) * (index > 0)), len(course))
        made.append(
            Groove(
                kind="swirl",
                points_mm=shifted[cut],
                width_mm=float(rng.uniform(0.035, 0.08)),
                slope=float(np.clip(rng.lognormal(np.log(0.07), 0.65), 0.012, 0.32)),
                sharpness=float(rng.uniform(0, 1)),
                lean=float(rng.uniform(-0.3, 0.3)),
                depth_along=_depth(rng, len(course), 0.18)[cut],
            )
        )
    return made


def _scratch(rng: np.random.Generator, size_mm: tuple[float, float]) -> Groove:
    """One isolated, wider and steeper groove."""
    length = float(np.clip(rng.lognormal(np.log(32), 0.5), 10, 110))
    start = rng.uniform(-0.42, 0.42, 2) * size_mm
    course = _course(rng, start, length, rng.normal(0, 0.004), 0.05)
    return Groove(
        kind="scratch",
        points_mm=course,
        width_mm=float(rng.uniform(0.07, 0.15)),
        slope=float(rng.uniform(0.18, 0.48)),
        sharpness=float(rng.uniform(0.2, 1)),
        lean=float(rng.uniform(-0.3, 0.3)),
        depth_along=_depth(rng, len(course), 0.12),
    )


def random_grooves(
    seed: int, *, size_mm: tuple[float, float], swirl_mm_per_cm2: float, scratches: int
) -> list[Groove]:
    """Swirls of a given length a panel area, and a number of scratches, placed at random."""
    rng = np.random.default_rng([seed, 1])
    wanted, made = swirl_mm_per_cm2 * size_mm[0] * size_mm[1] / 100, list[Groove]()
    total = 0.0
    while total < wanted:
        for groove in _swirl(rng, size_mm):
            made.append(groove)
            total += groove.length_mm
    scratch_rng = np.random.default_rng([seed, 2])
    return made + [_scratch(scratch_rng, size_mm) for _ in range(scratches)]


def polished(
    grooves: Iterable[Groove], seed: int, *, swirls_left: float, scratches_left: float
) -> list[Groove]:
    """What polishing leaves: a share of the grooves, those shallower than before."""
    rng, left = np.random.default_rng([seed, 3]), list[Groove]()
    for groove in grooves:
        share = swirls_left if groove.kind == "swirl" else scratches_left
        keep, shallower = rng.random() < share, rng.uniform(0.55, 0.95)
        if keep:
            left.append(replace(groove, slope=groove.slope * (shallower if share < 1 else 1.0)))
    return left


def moved(grooves: Iterable[Groove], *, offset_mm: tuple[float, float], turn_deg: float) -> list[Groove]:
    """The same grooves on a panel that lies turned and shifted under the camera."""
    angle = np.deg2rad(turn_deg)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return [replace(g, points_mm=g.points_mm @ turn.T + offset_mm) for g in grooves]


def tangents(points: Floats) -> Floats:
    """Unit vectors along a polyline, one a point."""
    step = np.gradient(points, axis=0)
    return np.asarray(step / np.maximum(np.linalg.norm(step, axis=1, keepdims=True), 1e-12))


def _splat(target: Map, column: Floats, row: Floats, value: Floats) -> None:
    """Add `value` at fractional texels, shared out bilinearly."""
    height, width = target.shape
    left, top = np.floor(column).astype(np.int64), np.floor(row).astype(np.int64)
    fx, fy = column - left, row - top
    for dy, dx in ((0, 0), (0, 1), (1, 0), (1, 1)):
        share = (fy if dy else 1 - fy) * (fx if dx else 1 - fx)
        r, c = top + dy, left + dx
        ok = (r >= 0) & (r < height) & (c >= 0) & (c < width)
        np.add.at(target.reshape(-1), r[ok] * width + c[ok], (value * share)[ok].astype(np.float32))


def groove_slopes(
    grooves: Sequence[Groove], *, field_mm: tuple[float, float], texels_per_mm: float
) -> tuple[Map, Map]:
    """Slope maps (dz/dx, dz/dy) of all grooves over a field of (width, height) mm around (0, 0).

    Each groove is laid down as a fine lattice of samples along and across it, each worth its own area, so a
    texel holds the mean slope around itself: lines do not bead. Where grooves cross, slopes add.
    """
    shape = (round(field_mm[1] * texels_per_mm), round(field_mm[0] * texels_per_mm))
    slope_x, slope_y = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    fine = 0.4 / texels_per_mm
    for groove in grooves:
        half = groove.width_mm / 2
        if (np.abs(groove.points_mm) > np.array(field_mm) / 2 + 1).any(axis=1).all():
            continue
        position = np.arange(0, len(groove.points_mm) - 1, fine / STEP_MM)
        index = np.arange(len(groove.points_mm))
        along = np.c_[[np.interp(position, index, groove.points_mm[:, k]) for k in (0, 1)]].T
        ahead = tangents(along)
        aside = np.c_[-ahead[:, 1], ahead[:, 0]]
        count = max(int(np.ceil(groove.width_mm / fine)), 5)
        across = (np.arange(count) + 0.5) / count * 2 - 1
        wall = groove.wall_slope(across)[None, :] * np.interp(position, index, groove.depth_along)[:, None]
        spot = along[:, None, :] + (across * half)[None, :, None] * aside[:, None, :]
        area = fine * (groove.width_mm / count) * texels_per_mm**2
        column = (spot[..., 0] * texels_per_mm + shape[1] / 2 - 0.5).ravel()
        row = (shape[0] / 2 - 0.5 - spot[..., 1] * texels_per_mm).ravel()
        for target, part in ((slope_x, aside[:, 0]), (slope_y, aside[:, 1])):
            _splat(target, column, row, (wall * part[:, None] * area).ravel())
    return slope_x, slope_y


def orange_peel(
    seed: int,
    *,
    field_mm: tuple[float, float],
    rms_slope: float,
    offset_mm: tuple[float, float],
    turn_deg: float,
) -> tuple[Map, Map]:
    """Slopes of a wavy coat on a 0.1 mm grid, rms as given: waves of about 2 mm on longer ones of 8 mm."""
    pitch, span = 0.1, int(max(field_mm) * 1.6 / 0.1)
    rng = np.random.default_rng([seed, 4])
    noise = rng.normal(size=(span, span)).astype(np.float32)
    short = gaussian_filter(noise, 0.45 / pitch) * 0.45
    long = gaussian_filter(rng.normal(size=(span, span)).astype(np.float32), 2.2 / pitch) * 2.2
    height = short / short.std() * 1.0 + long / long.std() * 2.5
    size = (int(field_mm[0] / pitch), int(field_mm[1] / pitch))
    turn = cv2.getRotationMatrix2D((span / 2, span / 2), turn_deg, 1.0)
    turn[0, 2] += (size[0] - span) / 2 + offset_mm[0] / pitch
    turn[1, 2] += (size[1] - span) / 2 - offset_mm[1] / pitch
    height = cv2.warpAffine(height, turn, size, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT)
    down, right = np.gradient(height, pitch)
    rms = float(np.sqrt(np.mean(down**2 + right**2) / 2))
    return (right / rms * rms_slope).astype(np.float32), (-down / rms * rms_slope).astype(np.float32)
