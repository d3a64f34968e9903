"""The first guess of how a frame lies on others: their lines as pictures, correlated over all shifts."""

from __future__ import annotations

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
    cell_px: int = tuning.COARSE_PX  # of the pictures that are correlated


def guess(
    expected: Homography,
    moving: OrientedPoints,
    fixed: OrientedPoints,
    *,
    shape: tuple[int, int],
    search: Search,
) -> Homography:
    """Lay a frame's lines on others by shift, turn and scale.

    Parameters
    ----------
    expected : (3, 3) float64 ndarray
        Where the frame would lie if the camera had not moved since.
    moving, fixed : OrientedPoints
        Lines of the frame in its own pixels; of the others, in pixels of the map.
    shape : (int, int)
        Of the map.
    search : Search

    Returns
    -------
    (3, 3) float64 ndarray
        Frame to map; right to about a cell, if the frames share lines.
    """
    from scipy import fft

    field, cells = Field.of(shape), search.reach_px // search.cell_px
    still = picture(fixed, shape, search.cell_px)
    size = [fft.next_fast_len(side + cells) for side in still.shape]
    spectrum = fft.fft2(still, size)
    window = np.arange(-cells, cells + 1)
    best: tuple[float, Homography] = (-np.inf, expected)
    for scale in search.scales:
        for turn in search.turns_deg:
            pose = turned(turn, field, scale=scale) @ expected
            drawn = picture(moving.moved(pose), shape, search.cell_px)
            meeting = fft.ifft2(spectrum * np.conj(fft.fft2(drawn, size))).real[np.ix_(window, window)]
            # a frame that is turned or widened out of the map must not win by its few lines left
            meeting = meeting / max(float(np.linalg.norm(drawn)), 1e-6)
            down, right = np.unravel_index(int(meeting.argmax()), meeting.shape)
            if meeting[down, right] > best[0]:
                shift = shifted(*(search.cell_px * (int(n) - cells) for n in (right, down)))
                best = float(meeting[down, right]), shift @ pose
    return best[1]


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
