"""A photograph laid on one grid about its hotspot, so that two of them can be laid on each other.

All views have the same size, the hotspot in the middle cell, and cells of the same length of panel: a
quarter of a
millimetre, or a thirty-second of the hotspot's radius where no scale is known.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from defectmap.results import Hotspot, Mark

CELLS_PER_MM = 4.0
CELLS_PER_RADIUS = 32.0
HALF_CELLS = 240  # 60 mm each way
NEAR_RADII = 2.5
STEP_CELLS = 2.0  # marks are drawn in steps of about this length
SMOOTH = 1e-3  # spread of log light under which there is no pattern, only rounding
DARK_FLOOR = 2e-4  # linear light; below one code of an 8-bit picture a logarithm only shows noise


Grid = NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelView:
    """One photograph on the grid; every array is (2 · HALF_CELLS + 1) square, hotspot in the middle."""

    cells_per_mm: float
    lines: NDArray[np.complex64]  # marks as soft lines; angle is twice the direction, size 0 to 1
    line_mm: float  # how much mark is on the grid
    line_pieces: int
    texture: NDArray[np.float32]  # fine brightness pattern between the marks, in units of its local spread
    seen: NDArray[np.float32]  # 1 where `texture` holds
    pattern: float  # share of the texture beside the hotspot that is paint and not noise or flake

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns of the grid."""
        return self.lines.shape[0], self.lines.shape[1]


def cells_per_mm(hotspot: Hotspot, *, calibrated: bool) -> float:
    """Grid cells in one mm (or in one px where no scale is known)."""
    return CELLS_PER_MM if calibrated else CELLS_PER_RADIUS / hotspot.radius_px


def panel_view(
    luminance: NDArray[np.float32],
    clipped: NDArray[np.bool_],
    zone: NDArray[np.bool_],
    marks: Sequence[Mark],
    *,
    hotspot: Hotspot,
    px_per_mm: float,
    cells_per_mm: float,
) -> PanelView:
    """Lay a photograph on the grid.

    Parameters
    ----------
    luminance : (H, W) float32 ndarray
        Linear light, 0 to 1.
    clipped : (H, W) bool ndarray
        Pixels whose value is not known.
    zone : (H, W) bool ndarray
        Where marks count.
    marks : sequence of Mark
        Buffer trails are left out: polishing makes them, so they say nothing of the place.
    hotspot : Hotspot
        Middle of the grid.
    px_per_mm : float
        Scale of this photograph.
    cells_per_mm : float
        Scale of the grid, the same for both photographs.

    Returns
    -------
    PanelView
    """
    scale = cells_per_mm / px_per_mm
    lasting = [mark for mark in marks if mark.kind != "trail"]
    paths = [_to_grid(mark.points, hotspot, scale) for mark in lasting]
    drawn = _drawn(paths)
    light = _resampled(luminance, hotspot, scale)
    hidden = _resampled((clipped | ~zone).astype(np.float32), hotspot, scale, outside=1.0)
    covered = _widened(np.abs(drawn) > 0.05, 2) | _widened(hidden > 0.02, 3)
    seen = (~covered).astype(np.float32)
    return PanelView(
        cells_per_mm=cells_per_mm,
        lines=drawn,
        line_mm=float(sum(mark.length_mm for mark in lasting)),
        line_pieces=len(lasting),
        texture=_texture(light, seen),
        seen=seen,
        pattern=_pattern(light, seen, near_cells=NEAR_RADII * hotspot.radius_px * scale),
    )


def detail(
    luminance: NDArray[np.float32], clipped: NDArray[np.bool_], *, hotspot: Hotspot, scale: float
) -> NDArray[np.float32]:
    """Everything fine in the picture, marks and pattern alike, on the grid; 0 where it is clipped.

    Parameters
    ----------
    luminance, clipped : (H, W) ndarray
        As for `panel_view`.
    hotspot : Hotspot
        Middle of the grid.
    scale : float
        Cells in one px.

    Returns
    -------
    (2 · HALF_CELLS + 1, 2 · HALF_CELLS + 1) float32 ndarray
    """
    hidden = _resampled(clipped.astype(np.float32), hotspot, scale, outside=1.0)
    seen = (~_widened(hidden > 0.02, 3)).astype(np.float32)
    return _texture(_resampled(luminance, hotspot, scale), seen)


def _to_grid(points: NDArray[np.float64], hotspot: Hotspot, scale: float) -> NDArray[np.float64]:
    return (points - [hotspot.row, hotspot.column]) * scale + HALF_CELLS


def _drawn(paths: Sequence[NDArray[np.float64]]) -> NDArray[np.complex64]:
    """Draw soft lines whose complex value turns with twice their direction.

    Lines that cross add up to nothing in a correlation, lines that run alike add up: two panels full of marks
    are told apart where plain lines would meet everywhere.
    """
    import cv2

    size = (2 * HALF_CELLS + 1,) * 2
    canvas = [np.zeros(size, dtype=np.float32) for _ in range(2)]
    for path in paths:
        length = float(np.linalg.norm(np.diff(path, axis=0), axis=1).sum())
        every = max(1, int(STEP_CELLS * (len(path) - 1) / max(length, 1e-9)))
        thinned = np.vstack([path[:-1:every], path[-1:]])
        places = np.round(thinned[:, ::-1] * 16).astype(np.int32)
        for start, end in pairwise(places):
            direction = 2 * math.atan2(float(end[1] - start[1]), float(end[0] - start[0]))
            ends = (int(start[0]), int(start[1])), (int(end[0]), int(end[1]))
            cv2.line(canvas[0], *ends, math.cos(direction), 1, cv2.LINE_8, 4)
            cv2.line(canvas[1], *ends, math.sin(direction), 1, cv2.LINE_8, 4)
    across, along = (cv2.GaussianBlur(part, (0, 0), 1.0) * 2.5 for part in canvas)
    return np.asarray(across + 1j * along, dtype=np.complex64)


def _resampled(
    picture: NDArray[np.float32], hotspot: Hotspot, scale: float, outside: float = 0.0
) -> NDArray[np.float32]:
    """Average `picture` into cells and move the hotspot to the middle."""
    import cv2

    area = cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
    small = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=area)
    # the sizes are whole numbers, so the scale that was really used differs a little along each axis
    down, across = small.shape[0] / picture.shape[0], small.shape[1] / picture.shape[1]
    row, column = (hotspot.row + 0.5) * down - 0.5, (hotspot.column + 0.5) * across - 0.5
    move = np.array([[1, 0, HALF_CELLS - column], [0, 1, HALF_CELLS - row]], dtype=np.float64)
    size = (2 * HALF_CELLS + 1,) * 2
    moved = cv2.warpAffine(small, move, size, borderMode=cv2.BORDER_CONSTANT, borderValue=outside)
    return np.asarray(moved, dtype=np.float32)


def _widened(mask: NDArray[np.bool_], cells: int) -> NDArray[np.bool_]:
    import cv2

    kernel = np.ones((2 * cells + 1,) * 2, dtype=np.uint8)
    return np.asarray(cv2.dilate(mask.astype(np.uint8), kernel) > 0)


def _texture(light: Grid, seen: Grid) -> Grid:
    """Logarithm of light without halo and slow part, over its local spread; free of exposure and lamp."""
    fine = _local_mean(_unhaloed(light, seen), seen, 1.0) * seen
    spread = np.sqrt(np.maximum(_local_mean(fine * fine, seen, 16.0), 0.0))
    patterned = seen * (spread > SMOOTH)
    return np.asarray(np.clip(fine / np.maximum(spread, SMOOTH), -3, 3) * patterned, dtype=np.float32)


def _pattern(light: Grid, seen: Grid, *, near_cells: float) -> float:
    """Share of the fine brightness pattern beside the hotspot that is wider than a cell: paint, not noise.

    Noise and flake are as fine as the cells; what they leave after smoothing is known from what it took away.
    """
    rough = _unhaloed(light, seen)
    fine = _local_mean(rough, seen, 1.0) * seen
    near = (seen > 0) & (_radius() < near_cells)
    if near.sum() < 100:
        return 0.0
    whole = float((fine[near] ** 2).mean())
    # white noise smoothed by a Gaussian of one cell keeps 0.0796 of its variance, the rest has 0.761 of it
    noise = float(((rough - fine)[near] ** 2).mean()) * 0.0796 / 0.761
    return max(0.0, 1 - noise / whole) if whole > SMOOTH**2 else 0.0


def _unhaloed(light: Grid, seen: Grid) -> Grid:
    """Logarithm of light less its mean at each distance from the hotspot, less its slow part.

    The halo and its rim lie about the hotspot and not on the paint: left in, they lay any two photographs on
    each other by their hotspots.
    """
    log_light = np.log(light + DARK_FLOOR)
    radius = _radius()
    ring = np.round(radius).astype(np.intp).ravel()
    cells = np.bincount(ring, seen.ravel())
    profile = np.bincount(ring, (log_light * seen).ravel()) / np.maximum(cells, 1e-9)
    known = np.flatnonzero(cells > 0)
    if not len(known):
        return np.zeros_like(light)
    flat = log_light - np.interp(radius, known, profile[known]).astype(np.float32)
    return np.asarray((flat - _local_mean(flat, seen, 6.0)) * seen, dtype=np.float32)


def _radius() -> NDArray[np.float64]:
    """Distance of each cell from the middle one."""
    along = np.arange(-HALF_CELLS, HALF_CELLS + 1)
    return np.asarray(np.hypot(along[:, None], along[None, :]))


def _local_mean(
    values: NDArray[np.float32], weights: NDArray[np.float32], sigma: float
) -> NDArray[np.float32]:
    import cv2

    total = cv2.GaussianBlur(weights, (0, 0), sigma)
    mean = cv2.GaussianBlur(values * weights, (0, 0), sigma) / np.maximum(total, 1e-3)
    return np.asarray(mean, dtype=np.float32)
