"""A photograph laid on one grid about its hotspot, so that two of them can be laid on each other.

All views have the same size, the hotspot in the middle cell, and cells of the same length of panel: a
quarter of a millimetre, or a thirty-second of the hotspot's radius where no scale is known.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from defectmap.comparison import tuning
from defectmap.comparison.averaged import Grid, Sheet, resampled
from defectmap.panel.measurement import Hotspot, Mark
from defectmap.panel.paths import SIXTEENTHS

# white noise smoothed by a Gaussian of FINE_CELLS keeps that much of its variance, the rest has as much of it
WHITE_KEPT, WHITE_LOST = 0.0796, 0.761


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelView:
    """One photograph on the grid; every array is (2 · HALF_CELLS + 1) square, hotspot in the middle."""

    cells_per_mm: float
    lines: NDArray[np.complex64]  # marks as soft lines; angle is twice the direction, size 0 to 1
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
    return tuning.CELLS_PER_MM if calibrated else tuning.CELLS_PER_RADIUS / hotspot.radius_px


def sheet_view(
    sheet: Sheet, marks: Sequence[Mark], *, hotspot: Hotspot, scale: float, cells_per_mm: float
) -> PanelView:
    """Lay a photograph on the grid.

    Parameters
    ----------
    sheet : Sheet
        The photograph averaged down, from `averaged.small_sheet`.
    marks : sequence of Mark
        Buffer trails are left out: polishing makes them, so they say nothing of the place.
    hotspot : Hotspot
        Middle of the grid.
    scale : float
        Cells in one px of the photograph.
    cells_per_mm : float
        Scale of the grid, the same for both photographs.
    """
    lasting = [mark for mark in marks if mark.kind != "trail"]
    paths = [_to_grid(mark.points, hotspot, scale) for mark in lasting]
    drawn = _drawn(paths)
    light = resampled(sheet.light, sheet, scale)
    hidden = resampled(sheet.hidden, sheet, scale, outside=1.0)
    covered = _widened(np.abs(drawn) > tuning.COVERED_FROM, tuning.COVERED_CELLS) | _hides(hidden)
    seen = (~covered).astype(np.float32)
    rough = _unhaloed(light, seen)
    fine = _local_mean(rough, seen, tuning.FINE_CELLS) * seen
    return PanelView(
        cells_per_mm=cells_per_mm,
        lines=drawn,
        line_pieces=len(lasting),
        texture=_levelled(fine, seen),
        seen=seen,
        pattern=_pattern(rough, fine, seen, near_cells=tuning.NEAR_RADII * hotspot.radius_px * scale),
    )


def detail(sheet: Sheet, *, scale: float) -> NDArray[np.float32]:
    """Everything fine in the picture, marks and pattern alike, on the grid; 0 where it is clipped.

    Parameters
    ----------
    sheet : Sheet
        From `small_sheet`.
    scale : float
        Cells in one px of the photograph.

    Returns
    -------
    (2 · HALF_CELLS + 1, 2 · HALF_CELLS + 1) float32 ndarray
    """
    hidden = resampled(sheet.clipped, sheet, scale, outside=1.0)
    seen = (~_hides(hidden)).astype(np.float32)
    rough = _unhaloed(resampled(sheet.light, sheet, scale), seen)
    return _levelled(_local_mean(rough, seen, tuning.FINE_CELLS) * seen, seen)


def _to_grid(points: NDArray[np.float64], hotspot: Hotspot, scale: float) -> NDArray[np.float64]:
    return (points - [hotspot.row, hotspot.column]) * scale + tuning.HALF_CELLS


def _drawn(paths: Sequence[NDArray[np.float64]]) -> NDArray[np.complex64]:
    """Draw soft lines whose complex value turns with twice their direction.

    Lines that cross add up to nothing in a correlation, lines that run alike add up: two panels full of marks
    are told apart where plain lines would meet everywhere.
    """
    import cv2

    canvas = np.zeros((2 * tuning.HALF_CELLS + 1, 2 * tuning.HALF_CELLS + 1, 2), dtype=np.float32)
    for path in paths:
        length = float(np.linalg.norm(np.diff(path, axis=0), axis=1).sum())
        every = max(1, int(tuning.STEP_CELLS * (len(path) - 1) / max(length, 1e-9)))
        thinned = np.vstack([path[:-1:every], path[-1:]])
        places = np.round(thinned[:, ::-1] * 2**SIXTEENTHS).astype(np.int32)
        right, down = np.diff(places, axis=0).T
        direction = 2 * np.arctan2(down, right)
        turning = np.column_stack([np.cos(direction), np.sin(direction)]).tolist()
        for (start, end), colour in zip(pairwise(places.tolist()), turning, strict=True):
            cv2.line(canvas, start, end, colour, 1, cv2.LINE_8, SIXTEENTHS)
    soft = np.asarray(
        cv2.GaussianBlur(canvas, (0, 0), tuning.LINE_CELLS) * np.float32(tuning.LINE_GAIN), dtype=np.float32
    )
    return soft.view(np.complex64)[:, :, 0]


def _widened(mask: NDArray[np.bool_], cells: int) -> NDArray[np.bool_]:
    import cv2

    kernel = np.ones((2 * cells + 1,) * 2, dtype=np.uint8)
    return np.asarray(cv2.dilate(mask.astype(np.uint8), kernel) > 0)


def _hides(hidden: Grid) -> NDArray[np.bool_]:
    """Where a share that is hidden spoils a cell, or one close by."""
    return _widened(hidden > tuning.HIDDEN_FROM, tuning.HIDDEN_CELLS)


def _levelled(fine: Grid, seen: Grid) -> Grid:
    """Logarithm of light without halo and slow part, over its local spread; free of exposure and lamp."""
    spread = np.sqrt(np.maximum(_local_mean(fine * fine, seen, tuning.SPREAD_CELLS), 0.0))
    patterned = seen * (spread > tuning.SMOOTH)
    relative = np.clip(fine / np.maximum(spread, tuning.SMOOTH), -tuning.MOST_SPREADS, tuning.MOST_SPREADS)
    return np.asarray(relative * patterned, dtype=np.float32)


def _pattern(rough: Grid, fine: Grid, seen: Grid, *, near_cells: float) -> float:
    """Share of the fine brightness pattern beside the hotspot that is wider than a cell: paint, not noise.

    Noise and flake are as fine as the cells; what they leave after smoothing is known from what it took away.
    """
    near = (seen > 0) & (_radius() < near_cells)
    if near.sum() < tuning.PATTERN_LEAST_CELLS:
        return 0.0
    whole = float((fine[near] ** 2).mean())
    noise = float(((rough - fine)[near] ** 2).mean()) * WHITE_KEPT / WHITE_LOST
    return max(0.0, 1 - noise / whole) if whole > tuning.SMOOTH**2 else 0.0


def _unhaloed(light: Grid, seen: Grid) -> Grid:
    """Logarithm of light less its mean at each distance from the hotspot, less its slow part.

    The halo and its rim lie about the hotspot and not on the paint: left in, they lay any two photographs on
    each other by their hotspots.
    """
    log_light = np.log(light + np.float32(tuning.DARK_FLOOR))
    ring, inner, between = _rings()
    cells = np.bincount(ring, seen.ravel())
    profile = np.bincount(ring, (log_light * seen).ravel()) / np.maximum(cells, 1e-9)
    known = np.flatnonzero(cells > 0)
    if not len(known):
        return np.zeros_like(light)
    whole = np.interp(np.arange(len(cells) + 1), known, profile[known]).astype(np.float32)
    flat = log_light - (whole[inner] + between * np.diff(whole)[inner])
    return np.asarray((flat - _local_mean(flat, seen, tuning.SLOW_CELLS)) * seen, dtype=np.float32)


@lru_cache(maxsize=1)
def _radius() -> NDArray[np.float32]:
    """Distance of each cell from the middle one; shared, so read-only."""
    along = np.arange(-tuning.HALF_CELLS, tuning.HALF_CELLS + 1, dtype=np.float32)
    radius: NDArray[np.float32] = np.hypot(along[:, None], along[None, :])
    radius.setflags(write=False)
    return radius


@lru_cache(maxsize=1)
def _rings() -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.float32]]:
    """Nearest ring of each cell (flat), the ring inside of it, and how far it is on the way to the next."""
    radius = _radius()
    nearest = np.round(radius).astype(np.intp).ravel()
    inner = radius.astype(np.intp)
    return nearest, inner, radius - inner.astype(np.float32)


def _local_mean(values: Grid, weights: Grid, sigma: float) -> Grid:
    """Mean over a Gaussian's reach; a wide one is as good on a coarser grid and a tenth of the work."""
    import cv2

    both = np.dstack([values * weights, weights])
    coarse = max(1, int(sigma / 3))
    if coarse == 1:
        total = cv2.GaussianBlur(both, (0, 0), sigma)
    else:
        size = both.shape[1] // coarse, both.shape[0] // coarse
        small = cv2.resize(both, size, interpolation=cv2.INTER_AREA)
        # averaging into coarse cells and interpolating between them blur by 1/12 and 1/6 cell² besides, 1/4
        narrower = math.sqrt((sigma * size[0] / both.shape[1]) ** 2 - 1 / 4)
        small = cv2.GaussianBlur(small, (0, 0), narrower)
        total = cv2.resize(small, both.shape[1::-1], interpolation=cv2.INTER_LINEAR)
    return np.asarray(total[:, :, 0] / np.maximum(total[:, :, 1], tuning.LEAST_SEEN), dtype=np.float32)
