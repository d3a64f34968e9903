"""The first guess of how a frame lies on others: their lines as pictures, correlated over all shifts."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from defectmap.film import tuning
from defectmap.film.homography import Field, Homography, shifted, turned
from defectmap.film.lines import OrientedPoints


@dataclass(frozen=True, slots=True, kw_only=True)
class Search:
    """How far a frame may lie from where it is expected."""

    reach_px: int
    turns_deg: tuple[float, ...]
    scales: tuple[float, ...] = (1.0,)
    step_px: float = math.inf  # spread of the shift from one frame to the next, as far as known beforehand
    cell_px: int = tuning.COARSE_PX  # of the pictures that are correlated


def guesses(
    expected: Homography,
    moving: OrientedPoints,
    fixed: OrientedPoints,
    *,
    shape: tuple[int, int],
    search: Search,
) -> list[Homography]:
    """Lay a frame's lines on others by shift, turn and scale.

    Parameters
    ----------
    expected : (3, 3) float64 ndarray
        Where the frame would lie if the camera had not moved since.
    moving, fixed : OrientedPoints
        Lines of the frame in its own pixels; of the others, in pixels of the map.
    shape : (int, int)
        Of the map.

    Returns
    -------
    list of (3, 3) float64 ndarray
        Frame to map, the best first, then others that meet nearly as well elsewhere; right to about a cell,
        if the frames share lines.
    """
    from scipy import fft

    field, cells = Field.of(shape), search.reach_px // search.cell_px
    still = picture(fixed, shape, search.cell_px)
    size = [fft.next_fast_len(side + cells) for side in still.shape]
    spectrum = fft.fft2(still, size)
    window = np.arange(-cells, cells + 1)
    found: list[tuple[float, tuple[float, float], Homography]] = []
    for scale in search.scales:
        for turn in search.turns_deg:
            pose = turned(turn, field, scale=scale) @ expected
            drawn = picture(moving.moved(pose), shape, search.cell_px)
            meeting = fft.ifft2(spectrum * np.conj(fft.fft2(drawn, size))).real[np.ix_(window, window)]
            # a frame that is turned or widened out of the map must not win by its few lines left
            meeting = meeting / max(float(np.linalg.norm(drawn)), 1e-6)
            for height, down, right in _peaks(meeting):
                shift = search.cell_px * (right - cells), search.cell_px * (down - cells)
                found.append((height, shift, shifted(*shift) @ pose))
    return _apart(sorted(found, key=lambda one: -one[0]), tuning.APART_CELLS * search.cell_px)


def _peaks(meeting: NDArray[np.float64]) -> list[tuple[float, int, int]]:
    """The highest places, and those about as high that are no shoulders of one another."""
    left, found = meeting.copy(), []
    for _ in range(tuning.MOST_GUESSES):
        down, right = (int(n) for n in np.unravel_index(int(left.argmax()), left.shape))
        found.append((float(left[down, right]), down, right))
        beside = slice(max(0, down - tuning.APART_CELLS), down + tuning.APART_CELLS + 1)
        left[beside, max(0, right - tuning.APART_CELLS) : right + tuning.APART_CELLS + 1] = -np.inf
        if not left.max() > tuning.RIVAL * found[0][0]:
            break
    return found


def _apart(found: list[tuple[float, tuple[float, float], Homography]], apart_px: float) -> list[Homography]:
    kept: list[tuple[tuple[float, float], Homography]] = []
    for height, shift, pose in found:
        if height < tuning.RIVAL * found[0][0] or len(kept) == tuning.MOST_GUESSES:
            break
        if all(max(abs(shift[0] - s[0]), abs(shift[1] - s[1])) > apart_px for s, _ in kept):
            kept.append((shift, pose))
    return [pose for _, pose in kept]


def picture(lines: OrientedPoints, shape: tuple[int, int], cell_px: int) -> NDArray[np.complex64]:
    """Draw lines softly on a coarse grid, with twice their direction as the angle of complex numbers.

    Lines that cross add up to nothing in a correlation, lines that run alike add up.
    """
    import cv2

    rows, columns = (max(1, side // cell_px) for side in shape)
    canvas = np.zeros((rows, columns, 2), np.float32)
    column, row = np.round(lines.at / cell_px).astype(int).T
    seen = (column >= 0) & (row >= 0) & (column < columns) & (row < rows)
    double = 2 * np.arctan2(lines.along[seen, 1], lines.along[seen, 0])
    np.add.at(canvas, (row[seen], column[seen]), np.column_stack([np.cos(double), np.sin(double)]))
    soft = np.asarray(cv2.GaussianBlur(canvas, (0, 0), tuning.SOFT_CELLS), np.float32)
    height = np.hypot(soft[..., 0], soft[..., 1])
    soft /= np.maximum(height, np.float32(tuning.CROWDED))[..., None]
    return np.asarray(soft[..., 0] + 1j * soft[..., 1], dtype=np.complex64)
