"""Grooves as light: what each place of a groove sends to the camera, drawn with sub-pixel accuracy.

A groove is cut lengthwise into strips, each with the light of its own tilts. Strips are laid down as closely
spaced points with quadratic B-spline weights: those weights add up to one and keep first and second moments
wherever the point lies between pixels, so neither position nor direction changes a line's total or its width.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.phantom.grooves import Groove

Floats = NDArray[np.floating[Any]]
Light = Callable[
    [Floats, Floats], Floats
]  # (row slope, column slope) of the normal, (N, M) each -> light (N, M)

TRUTH_STEP_MM = 0.15
SPLINE_VARIANCE = 0.25  # px^2, of the quadratic B-spline
_DRAW_STEP_PX = 0.7
_WIDE_STRIP_PX = 0.75
_THIN_PX = 0.15  # below this the groove's own width adds under 0.3 % to the variance of its image
_BLOCK = 1 << 18  # tilted lights worked out at a time
_DEPOSITS = 1 << 19  # points laid down at a time


@dataclass(frozen=True, slots=True, kw_only=True)
class Samples:
    """Places along grooves at most 0.15 mm apart, all grooves one after the other."""

    groove: NDArray[np.int64]  # (N,) index of the groove
    along_mm: Floats  # (N,) distance along that groove
    row_mm: Floats  # (N,) on the panel
    column_mm: Floats
    across: Floats  # (N, 2) unit vector across the groove, row, column


def sampled(grooves: Sequence[Groove]) -> Samples:
    """Sample every groove from end to end with a step of its own, at most 0.15 mm.

    Returns
    -------
    Samples
        Tangents are set at the vertices and interpolated, so a coarse polyline turns smoothly.
    """
    if not grooves:
        none = np.empty(0)
        across = np.empty((0, 2))
        return Samples(
            groove=np.empty(0, np.int64), along_mm=none, row_mm=none, column_mm=none, across=across
        )
    sizes = np.array([len(g.points) for g in grooves])
    stop = np.cumsum(sizes)
    points = np.concatenate([g.points for g in grooves])
    step = np.diff(points, axis=0)
    gap = np.hypot(step[:, 0], step[:, 1])
    tangent = _vertex_tangents(step, sizes)
    # One running coordinate for all grooves, with 1 mm of nothing between them.
    gap[stop[:-1] - 1] = 1.0
    running = np.concatenate([[0.0], np.cumsum(gap)])
    start_mm = running[stop - sizes]
    length = running[stop - 1] - start_mm
    count = np.maximum(2, np.ceil(length / TRUTH_STEP_MM - 1e-9).astype(np.int64) + 1)
    groove = np.repeat(np.arange(len(grooves)), count)
    nth = np.arange(len(groove)) - np.repeat(np.cumsum(count) - count, count)
    along = nth * (length / (count - 1))[groove]
    at = along + start_mm[groove]
    across = np.column_stack([np.interp(at, running, t) for t in (-tangent[:, 1], tangent[:, 0])])
    across /= np.linalg.norm(across, axis=1, keepdims=True)
    return Samples(
        groove=groove,
        along_mm=along,
        row_mm=np.interp(at, running, points[:, 0]),
        column_mm=np.interp(at, running, points[:, 1]),
        across=across,
    )


def _vertex_tangents(step: Floats, sizes: NDArray[np.int64]) -> Floats:
    """Mean direction of the two segments at each vertex, carried on at the ends; exact on an even arc."""
    stop = np.cumsum(sizes)
    start = stop - sizes
    step = step.copy()
    step[stop[:-1] - 1] = 1.0  # between two grooves: anything, it is not used
    unit = step / np.linalg.norm(step, axis=1, keepdims=True)
    padded = np.concatenate([unit[:1], unit, unit[-1:]])
    tangent: Floats = (padded[1:] + padded[:-1]) / 2
    first, last = unit[start], unit[stop - 2]
    longer = sizes > 2
    second = unit[np.where(longer, start + 1, start)]
    before = unit[np.where(longer, stop - 3, stop - 2)]
    tangent[start] = 1.5 * first - 0.5 * second
    tangent[stop - 1] = 1.5 * last - 0.5 * before
    return tangent


@dataclass(frozen=True, slots=True, kw_only=True)
class Strips:
    """Light of one class of samples, those whose grooves are cut into the same number of strips."""

    pick: NDArray[np.int64]  # (N,) which samples
    light: Floats  # (N, S) light of each strip, lowest `across` first
    width_px: Floats  # (N,) of the whole groove


def strip_light(
    samples: Samples,
    inside: NDArray[np.bool_],
    *,
    width_px: Floats,
    slope_rad: Floats,
    finest: float,
    light: Callable[[NDArray[np.int64], Floats, Floats], Floats],
) -> Iterator[Strips]:
    """Light that the walls of each groove send to the camera, averaged over each strip.

    Parameters
    ----------
    samples : Samples
    inside : (N,) bool ndarray
        Which samples to work out.
    width_px, slope_rad : (N,) ndarray
        Of the groove at each sample.
    finest : float
        Smallest slope over which the light changes (the coat's alpha), sets the number of tilts tried.
    light : callable
        ``light(pick, row_slope, column_slope)``: light at samples `pick` (n,) for tilts (n, M).

    Yields
    ------
    Strips
    """
    strips = np.where(width_px < _WIDE_STRIP_PX, 1, 2 * np.ceil(width_px / _WIDE_STRIP_PX / 2)).astype(
        np.int64
    )
    # The light over one period of a smooth profile is summed with even steps in phase, which converges
    # exponentially once the largest step in slope is below the width of the lobe.
    tilts = 1 << np.ceil(np.log2(np.clip(math.pi * slope_rad / finest, 16, 512))).astype(np.int64)
    key = strips * 1024 + tilts
    for value in np.unique(key[inside]):
        count, phases = int(value) // 1024, int(value) % 1024
        pick = np.flatnonzero(inside & (key == value))
        parts = [
            _strip_block(samples, part, slope_rad[part], count, phases, light)
            for part in np.array_split(pick, math.ceil(len(pick) * phases / _BLOCK))
        ]
        yield Strips(pick=pick, light=np.concatenate(parts), width_px=width_px[pick])


def _strip_block(
    samples: Samples,
    pick: NDArray[np.int64],
    slope: Floats,
    strips: int,
    phases: int,
    light: Callable[[NDArray[np.int64], Floats, Floats], Floats],
) -> Floats:
    if strips == 1:  # a quarter period each side of the middle meets every tilt once
        turn = (np.arange(phases) + 0.5) / phases * math.pi - math.pi / 2
    else:
        per_strip = math.ceil(2 * phases / strips)
        turn = ((np.arange(per_strip * strips) + 0.5) / (per_strip * strips) - 0.5) * 2 * math.pi
    tilt = np.sin(turn).astype(np.float32)[None, :] * slope[:, None].astype(np.float32)
    across = samples.across[pick].astype(np.float32)
    value = light(pick, tilt * across[:, :1], tilt * across[:, 1:])
    mean: Floats = value.reshape(len(pick), strips, -1).mean(axis=2)
    return mean


def draw(
    samples: Samples,
    strips: Sequence[Strips],
    *,
    to_px: Callable[[Floats, Floats], tuple[Floats, Floats]],
    px_per_mm: float,
    size_px: tuple[int, int],
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Lay all strips down on the pixel grid.

    Returns
    -------
    cover, light : (H, W) float32 ndarray
        Share of each pixel that is groove (may pass 1 where grooves cross), and its light times that share.
    """
    cover, light = (np.zeros(size_px, np.float32) for _ in range(2))
    laid = [d for group in strips for d in _deposits(samples, group, to_px, px_per_mm)]
    if not laid:
        return cover, light
    row, column, weight, value = (np.concatenate(x) for x in zip(*laid, strict=True))
    for part in np.array_split(np.arange(len(row)), math.ceil(len(row) / _DEPOSITS)):
        _add(cover, light, row[part], column[part], weight[part], value[part])
    return cover, light


def _deposits(
    samples: Samples, group: Strips, to_px: Any, px_per_mm: float
) -> Iterator[tuple[Floats, Floats, Floats, Floats]]:
    """Points (row px, column px), cover and light for each line of points that stands for a strip."""
    first, share, step_px = _between(samples, group.pick, px_per_mm)
    a, b = group.pick[first], group.pick[first] + 1

    def mix(x: Floats) -> Floats:
        return x[a] + (x[b] - x[a]) * share

    row, column = mix(samples.row_mm), mix(samples.column_mm)
    across_r, across_c = mix(samples.across[:, 0]), mix(samples.across[:, 1])
    width = group.width_px[first]
    count = group.light.shape[1]
    # Two points at +-b/sqrt(12) have the mean and the variance of a box of width b.
    thin = count == 1 and bool((width < _THIN_PX).all())
    halves = (0.0,) if thin else (-1 / math.sqrt(12), 1 / math.sqrt(12))
    for k in range(count):
        value = group.light[first, k] + (group.light[first + 1, k] - group.light[first, k]) * share
        for half in halves:
            shift_mm = ((k + 0.5 + half) / count - 0.5) * width / px_per_mm
            place = to_px(row + across_r * shift_mm, column + across_c * shift_mm)
            yield *place, step_px * width / count / len(halves), value


def _between(
    samples: Samples, pick: NDArray[np.int64], px_per_mm: float
) -> tuple[NDArray[np.int64], Floats, Floats]:
    """Even drawing points between neighbouring samples: index into `pick`, share of the way, step in px."""
    first = np.flatnonzero((np.diff(pick) == 1) & (np.diff(samples.groove[pick]) == 0))
    gap_px = (samples.along_mm[pick[first] + 1] - samples.along_mm[pick[first]]) * px_per_mm
    count = np.ceil(gap_px / _DRAW_STEP_PX).astype(np.int64)
    index = np.repeat(np.arange(len(first)), count)
    nth = np.arange(len(index)) - np.repeat(np.cumsum(count) - count, count)
    return first[index], (nth + 0.5) / count[index], (gap_px / count)[index]


def _add(
    cover: NDArray[np.float32],
    light: NDArray[np.float32],
    row: Floats,
    column: Floats,
    weight: Floats,
    value: Floats,
) -> None:
    height, width = cover.shape
    r, c = np.rint(row).astype(np.int64), np.rint(column).astype(np.int64)
    keep = (r >= -1) & (r <= height) & (c >= -1) & (c <= width)
    r, c, row, column = r[keep], c[keep], row[keep], column[keep]
    weight, value = weight[keep], value[keep]
    wr, wc = _spline(row - r) * weight, _spline(column - c)
    taps = (wr[:, None, :] * wc[None, :, :]).reshape(9, -1)
    corner = r * (width + 4) + c + (width + 5)
    index = corner[None, :] + (np.arange(3)[:, None] * (width + 4) + np.arange(3)).reshape(9, 1)
    for image, factor in ((cover, taps), (light, taps * value)):
        total = np.bincount(index.ravel(), factor.ravel(), (height + 4) * (width + 4))
        image += total.reshape(height + 4, width + 4)[2:-2, 2:-2].astype(np.float32)


def _spline(f: Floats) -> Floats:
    """Quadratic B-spline weights of three pixels in a row for a point `f` (-0.5..0.5) off the middle one."""
    return np.stack([0.5 * (0.5 - f) ** 2, 0.75 - f * f, 0.5 * (0.5 + f) ** 2])
