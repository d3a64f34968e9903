"""Plain lines on plain paper: pictures whose answer is a formula, to check line theory and counting."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.floating[Any]]
_REACH_SD = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A line of known profile; `width_px` is the SD of a Gaussian profile or the full width of a bar."""

    points: NDArray[np.float64]  # (N, 2) row, column in px
    amplitude: float
    width_px: float
    profile: Literal["gauss", "bar"] = "gauss"

    @property
    def length_px(self) -> float:
        """Length of the polyline."""
        return float(np.linalg.norm(np.diff(self.points, axis=0), axis=1).sum())


def straight(centre: tuple[float, float], *, angle_deg: float, length_px: float) -> NDArray[np.float64]:
    """Two points (row, column) of a segment; 0 degrees runs along a row, 90 along a column."""
    turn = math.radians(angle_deg)
    half = np.array([math.sin(turn), math.cos(turn)]) * length_px / 2
    return np.stack([np.asarray(centre) - half, np.asarray(centre) + half])


def arc(
    centre: tuple[float, float], *, radius_px: float, start_deg: float, sweep_deg: float, step_px: float = 0.5
) -> NDArray[np.float64]:
    """Points (row, column) along an arc; its length is radius times sweep to 0.03 % for radii above 6 px."""
    sweep = math.radians(sweep_deg)
    count = max(2, math.ceil(abs(sweep) * radius_px / step_px) + 1)
    turn = math.radians(start_deg) + np.linspace(0.0, sweep, count)
    return np.asarray(centre) + radius_px * np.column_stack([np.sin(turn), np.cos(turn)])


def lines_on_flat(
    lines: Iterable[Line],
    *,
    size_px: tuple[int, int],
    background: float = 0.2,
    ramp_per_px: tuple[float, float] = (0.0, 0.0),
    noise: float = 0.0,
    seed: int = 0,
) -> NDArray[np.float32]:
    """Lines added to a constant or sloping background.

    Parameters
    ----------
    lines : iterable of Line
        Added up where they cross; ends are round. A Gaussian profile is sampled at pixel centres, a bar is
        averaged over the square pixel.
    size_px : (int, int)
        Rows, columns.
    background : float
        Level at the middle of the picture.
    ramp_per_px : (float, float)
        Change per row and per column.
    noise : float
        SD of white Gaussian noise.

    Returns
    -------
    (H, W) float32 ndarray
        Not clipped.
    """
    height, width = size_px
    rows, columns = np.arange(height)[:, None], np.arange(width)[None, :]
    image = (
        background
        + ramp_per_px[0] * (rows - (height - 1) / 2)
        + ramp_per_px[1] * (columns - (width - 1) / 2)
        + np.zeros(size_px)
    )
    for line in lines:
        _add_line(image, line)
    if noise > 0:
        image += noise * np.random.default_rng(seed).standard_normal(size_px)
    return image.astype(np.float32)


def poisson_lines(seed: int, *, density_per_mm: float, size_mm: tuple[float, float]) -> NDArray[np.float64]:
    """Segments of a Poisson line process in a window: random straight lines, every direction and place alike.

    Parameters
    ----------
    density_per_mm : float
        Expected length of line per area, mm/mm^2.
    size_mm : (float, float)
        Height and width of the window; row and column run from 0.

    Returns
    -------
    (N, 2, 2) float64 ndarray
        Both ends (row, column) of each line's part inside the window, in mm.
    """
    rng = np.random.default_rng(seed)
    radius = math.hypot(*size_mm) / 2
    # Mean chord of a disc of diameter D is pi D / 4 and its area pi D^2 / 4, so L D lines cross it.
    count = rng.poisson(density_per_mm * 2 * radius)
    turn, away = rng.uniform(0.0, math.pi, count), rng.uniform(-radius, radius, count)
    normal = np.column_stack([np.sin(turn), np.cos(turn)])
    along = np.column_stack([normal[:, 1], -normal[:, 0]])
    foot = np.asarray(size_mm) / 2 + away[:, None] * normal
    return _clipped(foot, along, size_mm)


def hits(segments: Floats, probe: Sequence[tuple[float, float]]) -> int:
    """How many of the segments (N, 2, 2) cross the test line from probe[0] to probe[1]."""
    a, b = segments[:, 0], segments[:, 1]
    p, q = np.asarray(probe[0], float), np.asarray(probe[1], float)
    apart = _side(p, q, a) * _side(p, q, b) < 0
    across = _side(a, b, p) * _side(a, b, q) < 0
    return int((apart & across).sum())


def _side(a: Floats, b: Floats, p: Floats) -> Floats:
    d, e = b - a, p - a
    return d[..., 0] * e[..., 1] - d[..., 1] * e[..., 0]


def _clipped(foot: Floats, along: Floats, size_mm: tuple[float, float]) -> NDArray[np.float64]:
    with np.errstate(divide="ignore"):
        first, second = -foot / along, (np.asarray(size_mm) - foot) / along
    enter = np.minimum(first, second).max(axis=1)
    leave = np.maximum(first, second).min(axis=1)
    keep = leave > enter
    foot, along, enter, leave = foot[keep], along[keep], enter[keep], leave[keep]
    return np.stack([foot + enter[:, None] * along, foot + leave[:, None] * along], axis=1)


def _add_line(image: NDArray[np.float64], line: Line) -> None:
    reach = _REACH_SD * line.width_px if line.profile == "gauss" else line.width_px / 2 + 1
    low = np.maximum(np.floor(line.points.min(axis=0) - reach), 0).astype(int)
    high = np.ceil(line.points.max(axis=0) + reach).astype(int) + 1
    part = image[low[0] : high[0], low[1] : high[1]]
    if part.size == 0:
        return
    rows, columns = np.mgrid[low[0] : low[0] + part.shape[0], low[1] : low[1] + part.shape[1]]
    away2, lean = np.full(part.shape, np.inf), np.zeros(part.shape)
    for a, b in zip(line.points[:-1], line.points[1:], strict=True):
        d = b - a
        share = np.clip(((rows - a[0]) * d[0] + (columns - a[1]) * d[1]) / (d @ d), 0, 1)
        this2 = (rows - a[0] - share * d[0]) ** 2 + (columns - a[1] - share * d[1]) ** 2
        lean[this2 < away2] = math.atan2(abs(d[0]), abs(d[1]))
        np.minimum(away2, this2, out=away2)
    if line.profile == "gauss":
        part += line.amplitude * np.exp(-away2 / (2 * line.width_px**2))
    else:
        half = line.width_px / 2
        away = np.sqrt(away2)
        part += line.amplitude * (_edge(away + half, lean) - _edge(away - half, lean))


def _edge(away: Floats, lean: Floats) -> Floats:
    """Share of a pixel on the near side of an edge `away` px from its middle and `lean` rad steep."""
    long, short = np.maximum(np.cos(lean), np.sin(lean)), np.minimum(np.cos(lean), np.sin(lean))
    short = np.maximum(short, 1e-3)

    def rising(x: Floats) -> Floats:
        return np.maximum(x, 0) ** 2 / 2

    outer, inner = (long + short) / 2, (long - short) / 2
    total = rising(away + outer) - rising(away + inner) - rising(away - inner) + rising(away - outer)
    return np.asarray(total / (long * short))
