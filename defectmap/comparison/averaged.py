"""A photograph averaged down, and laid on a grid about its hotspot."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from defectmap.comparison.tuning import HALF_CELLS, PX_PER_CELL
from defectmap.panel.measurement import Hotspot
from defectmap.panel.photo.colour import STRIPE_ROWS

Grid = NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sheet:
    """A photograph averaged down by a whole number."""

    light: Grid  # linear
    clipped: Grid  # share of each pixel whose value is not known
    hidden: Grid  # the same, what lies outside the zone added
    shrink: int  # px of the photograph in one of these
    row: float  # of the hotspot, in these pixels
    column: float


def small_sheet(
    luminance: NDArray[np.float32],
    clipped: NDArray[np.bool_],
    zone: NDArray[np.bool_],
    *,
    hotspot: Hotspot,
    scale: float,
) -> Sheet:
    """Average a photograph down once, to a few pixels a cell, before it is laid on grids.

    Parameters
    ----------
    luminance, clipped, zone : (H, W) ndarray
        Linear light, pixels whose value is not known, where marks count.
    hotspot : Hotspot
        The lamp's reflection.
    scale : float
        Cells in one px, of the finest grid that is wanted.

    Returns
    -------
    Sheet
        At least `PX_PER_CELL` of its pixels a cell, or the photograph as it is.
    """
    halvings = max(0, int(math.log2(1 / (PX_PER_CELL * scale))))
    shrink = 2**halvings
    stripes = [
        (_halved(luminance[rows], halvings), *_hidden(clipped[rows], zone[rows], halvings))
        for rows in _stripes(luminance.shape[0], shrink)
    ]
    light, burnt, hidden = (np.concatenate(parts) for parts in zip(*stripes, strict=True))
    return Sheet(
        light=light,
        clipped=burnt,
        hidden=hidden,
        shrink=shrink,
        row=(hotspot.row + 0.5) / shrink - 0.5,
        column=(hotspot.column + 0.5) / shrink - 0.5,
    )


def resampled(
    picture: NDArray[np.float32], sheet: Sheet, scale: float, outside: float = 0.0
) -> NDArray[np.float32]:
    """Average a layer of the sheet into cells and move the hotspot to the middle.

    Parameters
    ----------
    picture : (h, w) float32 ndarray
        One layer of the sheet.
    sheet : Sheet
        Where the hotspot is, and how much smaller than the photograph.
    scale : float
        Cells in one px of the photograph.
    outside : float, optional
        What lies beyond the picture.

    Returns
    -------
    (2 · HALF_CELLS + 1, 2 · HALF_CELLS + 1) float32 ndarray
    """
    import cv2

    scale = scale * sheet.shrink
    area = cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
    small = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=area)
    # without a size OpenCV keeps to the factor itself, though the sides are rounded to whole cells
    row, column = (sheet.row + 0.5) * scale - 0.5, (sheet.column + 0.5) * scale - 0.5
    move = np.array([[1, 0, HALF_CELLS - column], [0, 1, HALF_CELLS - row]], dtype=np.float64)
    size = (2 * HALF_CELLS + 1,) * 2
    moved = cv2.warpAffine(small, move, size, borderMode=cv2.BORDER_CONSTANT, borderValue=outside)
    return np.asarray(moved, dtype=np.float32)


def _halved(picture: NDArray[np.float32] | NDArray[np.uint8], times: int) -> Grid:
    """Average two by two pixels so many times (OpenCV is fastest at that); bytes become shares of 255."""
    import cv2

    small: NDArray[Any] = picture
    for _ in range(times):
        height, width = small.shape[0] // 2, small.shape[1] // 2
        small = cv2.resize(small[: 2 * height, : 2 * width], (width, height), interpolation=cv2.INTER_AREA)
    if small.dtype == np.uint8:
        small = small.astype(np.float32) / 255
    return np.asarray(small, dtype=np.float32)


def _hidden(clipped: NDArray[np.bool_], zone: NDArray[np.bool_], halvings: int) -> tuple[Grid, Grid]:
    """Shares of small pixels that are clipped, and that are clipped or outside the zone."""
    import cv2

    burnt = np.asarray(cv2.threshold(clipped.view(np.uint8), 0, 255, cv2.THRESH_BINARY)[1], dtype=np.uint8)
    hidden = np.asarray(cv2.threshold(zone.view(np.uint8), 0, 255, cv2.THRESH_BINARY_INV)[1], dtype=np.uint8)
    np.bitwise_or(hidden, burnt, out=hidden)
    return _halved(burnt, halvings), _halved(hidden, halvings)


def _stripes(height: int, shrink: int) -> Iterator[slice]:
    """Rows of whole blocks, few enough at a time to stay in the processor's cache."""
    step = shrink * max(1, STRIPE_ROWS // shrink)
    return (slice(first, first + step) for first in range(0, height - shrink + 1, step))
