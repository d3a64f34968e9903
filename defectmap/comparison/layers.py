"""Two views as stacks of real layers, and their correlation over shifts by way of the Fourier transform.

OpenCV's transform, because it takes a third of the time of SciPy's on fields of this size.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from defectmap.comparison.tuning import HALF_CELLS, HALVING_CELLS

Map = NDArray[np.float32] | NDArray[np.complex64]
Layers = NDArray[np.float32]  # (H, W), or (H, W, 2) for real and imaginary part


def held_layers(fixed: Map, moving: Map, *, turn_deg: float, scale: float) -> tuple[Layers, Layers]:
    """Both views about the middle cell, no larger than what they hold within this turn and scale.

    Parameters
    ----------
    fixed, moving : (2 · HALF_CELLS + 1, 2 · HALF_CELLS + 1) ndarray
        Real, or complex with the direction of lines in the angle.
    turn_deg, scale : float
        Most that the moving view will be turned and widened.

    Returns
    -------
    tuple of two (H, W) or (H, W, 2) float32 ndarray
        H and W odd, alike in both; the middle cell is still in the middle.
    """
    still, turned = _half_extent(fixed), _half_extent(moving)
    slant = math.radians(turn_deg)
    turned = scale * (turned * math.cos(slant) + turned[::-1] * math.sin(slant))
    # a margin, so that smoothing does not see the edge; even, so that halving keeps the middle cell
    half = np.minimum(2 * np.ceil(np.maximum(still, turned) / 2 + 2), HALF_CELLS).astype(np.intp)
    rows, columns = (slice(HALF_CELLS - reach, HALF_CELLS + reach + 1) for reach in half)
    return _layers(fixed[rows, columns]), _layers(moving[rows, columns])


def spectrum(view: Layers, size: tuple[int, ...]) -> Layers:
    """Discrete Fourier transform of the view in the corner of an empty field, packed by OpenCV."""
    import cv2

    field = np.zeros((*size, *view.shape[2:]), dtype=np.float32)
    field[: view.shape[0], : view.shape[1]] = view
    return np.asarray(cv2.dft(field), dtype=np.float32)


def shifts(meeting: Layers, reach: int, turn_deg: float) -> NDArray[np.float32]:
    """Correlation at shifts up to `reach` each way, no shift in the middle.

    Parameters
    ----------
    meeting : (H, W) or (H, W, 2) float32 ndarray
        Inverse transform of the product of two spectra.
    reach : int
        Cells.
    turn_deg : float
        Turn of the moving view: the directions of its lines, doubled in the angle, turn with it.

    Returns
    -------
    (2 · reach + 1, 2 · reach + 1) float32 ndarray
    """
    along = np.arange(-reach, reach + 1)
    near = meeting[np.ix_(along, along)]
    if near.ndim == 2:
        return near
    double = 2 * math.radians(turn_deg)
    return np.asarray(near @ np.array([math.cos(double), math.sin(double)], dtype=np.float32))


def halved(view: Layers) -> Layers:
    """Half the cells, the middle cell still in the middle."""
    import cv2

    return np.asarray(cv2.GaussianBlur(view, (0, 0), HALVING_CELLS)[::2, ::2], dtype=np.float32)


def warped(view: Layers, turn_deg: float, scale: float) -> Layers:
    """Turn and scale about the middle cell."""
    import cv2

    middle = (np.array(view.shape[1::-1]) - 1) / 2  # (right, down), as OpenCV wants it
    swapped = (scale * rotation(turn_deg))[::-1, ::-1]
    warp = np.column_stack([swapped, middle - swapped @ middle])
    return np.asarray(cv2.warpAffine(view, warp, view.shape[1::-1]), dtype=np.float32)


def rotation(turn_deg: float) -> NDArray[np.float64]:
    """Rotation of (down, right) vectors that adds to the azimuth, which counts from right towards down."""
    c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    return np.array([[c, s], [-s, c]])


def _layers(view: Map) -> Layers:
    """(H, W) of a real view, (H, W, 2) of a complex one."""
    if not np.iscomplexobj(view):
        return np.asarray(view, dtype=np.float32)
    return np.ascontiguousarray(view, dtype=np.complex64)[:, :, None].view(np.float32)


def _half_extent(view: Map) -> NDArray[np.float64]:
    """How far from the middle cell the view holds anything, along rows and along columns."""
    holds = view != 0
    found = [np.flatnonzero(holds.any(axis=axis)) for axis in (1, 0)]
    return np.array([max(HALF_CELLS - held[0], held[-1] - HALF_CELLS) for held in found], dtype=np.float64)


assert HALF_CELLS % 2 == 0  # halving keeps the middle cell
