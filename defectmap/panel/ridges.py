"""Line response: a bank of short oriented filters, and the thin set of points where it peaks across a line.

The response is absolute. Its unit is the noise of one pixel (`noise.stabilise`), its gain is fixed by the
kernels, and nothing is divided by a maximum or a statistic of the picture: taking one mark away changes no
other mark.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from defectmap.panel import tuning
from defectmap.panel.threads import in_pairs

MOST_ROWS = 30_000  # at once: cv2.remap takes fewer than 32,768
DIRECTIONS = 16  # 11.25 degrees apart; the index hides in the four lowest bits of a response
_ANGLES_RAD = np.pi / DIRECTIONS * np.arange(DIRECTIONS)
_STEEP = np.abs(np.sin(_ANGLES_RAD)) > np.abs(np.cos(_ANGLES_RAD))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RidgePoints:
    """Points on the crest of lines of one polarity."""

    pixels: NDArray[np.int64]  # (N, 2) row, column
    points: NDArray[np.float64]  # (N, 2) sub-pixel row, column
    angle_rad: NDArray[np.float64]  # (N,) direction along the line, 0 along a row, in [0, pi)
    response: NDArray[np.float32]  # (N,) in units of pixel noise, positive


@lru_cache(maxsize=8)
def kernel_bank(
    *,
    across_px: float = tuning.KERNEL_ACROSS_PX,
    along_px: float = tuning.KERNEL_ALONG_PX,
    half_px: int = tuning.KERNEL_HALF_PX,
) -> tuple[NDArray[np.float32], ...]:
    """Oriented second derivatives of a Gaussian, blind to constant, sloping and evenly curving light.

    Across the line the profile is that of a second derivative (Steger, PAMI 20:113, 1998, uses it for line
    points); the part that would answer to a parabola is projected out, because the halo and orange peel
    curve. The gain is set so that a Gaussian line of 0.95 px standard deviation answers with its amplitude.

    Parameters
    ----------
    across_px, along_px : float
        Standard deviations of the Gaussian.
    half_px : int
        Radius of the disc that a kernel fills; up to 5 it runs in OpenCV's direct (not Fourier) code.

    Returns
    -------
    tuple of (2 * half_px + 1, 2 * half_px + 1) float32 ndarray
        One kernel a direction, `i * pi / DIRECTIONS` from the row direction.
    """
    return tuple(_kernel(np.pi * i / DIRECTIONS, across_px, along_px, half_px) for i in range(DIRECTIONS))


def narrow_bank() -> tuple[NDArray[np.float32], ...]:
    """Kernels for copies of half size or less, on which lines are finer and stand out more from the noise."""
    return kernel_bank(across_px=tuning.NARROW_ACROSS_PX, half_px=tuning.NARROW_HALF_PX)


def _kernel(angle_rad: float, across_px: float, along_px: float, half_px: int) -> NDArray[np.float32]:
    offsets = np.arange(-half_px, half_px + 1)
    rows, columns = np.meshgrid(offsets, offsets, indexing="ij")
    along = columns * np.cos(angle_rad) + rows * np.sin(angle_rad)
    across = rows * np.cos(angle_rad) - columns * np.sin(angle_rad)
    beyond = np.maximum(np.hypot(rows, columns) - half_px, 0)
    window = np.exp(-(along**2) / (2 * along_px**2) - beyond**2 / (2 * tuning.KERNEL_RIM_PX**2))
    window[beyond > 1] = 0.0  # a few thousandths of the kernel; what is exactly zero costs no time
    scaled = (across / across_px) ** 2
    kernel = window * (1 - scaled) * np.exp(-scaled / 2)
    wide = window * np.exp(-(across**2) / (2 * (tuning.KERNEL_WIDE * across_px) ** 2))
    moments = np.stack([np.ones_like(wide), across**2, along**2, across * along])
    shapes = wide * moments
    overlap = np.tensordot(moments, shapes, axes=([1, 2], [1, 2]))
    kernel -= np.tensordot(np.linalg.solve(overlap, (moments * kernel).sum((1, 2))), shapes, axes=1)
    line = np.exp(-(across**2) / (2 * tuning.LINE_SD_PX**2))
    return np.asarray(kernel / (kernel * line).sum(), dtype=np.float32)


def line_response(
    stabilised: NDArray[np.float32], *, bank: tuple[NDArray[np.float32], ...] | None = None
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Strongest answer over all directions to bright and to dark lines.

    Parameters
    ----------
    stabilised : (H, W) float32 ndarray
        Light in units of pixel noise.

    Returns
    -------
    bright, dark : (H, W) float32 ndarray
        Amplitude of the line through each pixel, in units of pixel noise, both counted positive. The
        direction's index sits in the four lowest bits of each number (a change of 2 parts in a million); see
        `direction_index`.
    """
    kernels = list(enumerate(kernel_bank() if bank is None else bank))
    shares = (kernels[::2], kernels[1::2]) if len(kernels) > 1 else (kernels,)
    parts = in_pairs(lambda share: _extremes(stabilised, share), shares)
    bright, darkest = parts[0]
    for more_bright, more_dark in parts[1:]:
        cv2.max(more_bright, bright, dst=bright)
        cv2.min(more_dark, darkest, dst=darkest)
    return bright, np.negative(darkest, out=darkest)  # its bits but for the sign stay, the index among them


def _extremes(
    stabilised: NDArray[np.float32], kernels: Sequence[tuple[int, NDArray[np.float32]]]
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Largest and smallest answer of some kernels, each with its index in the lowest bits."""
    bright: NDArray[np.float32] | None = None
    darkest: NDArray[np.float32] | None = None
    for index, kernel in kernels:
        answer = np.asarray(
            cv2.filter2D(stabilised, -1, kernel, borderType=cv2.BORDER_REFLECT), dtype=np.float32
        )
        bits = answer.view(np.int32)
        np.bitwise_and(bits, -DIRECTIONS, out=bits)
        np.bitwise_or(bits, index, out=bits)
        if bright is None or darkest is None:
            bright, darkest = answer.copy(), answer
        else:
            cv2.max(answer, bright, dst=bright)
            cv2.min(answer, darkest, dst=darkest)
    if bright is None or darkest is None:
        raise ValueError("bank has no kernel")
    return bright, darkest


def direction_index(response: NDArray[np.float32]) -> NDArray[np.int32]:
    """Unpack which direction answered; times pi / `DIRECTIONS` it is the angle along the line."""
    return response.view(np.int32) & (DIRECTIONS - 1)


def look_up(
    picture: NDArray[np.float32] | NDArray[np.uint8], rows: NDArray[np.float32], columns: NDArray[np.float32]
) -> NDArray[np.float32]:
    """Bilinear values at sub-pixel places.

    Parameters
    ----------
    picture : (H, W) float32 or uint8 ndarray
    rows, columns : (N, K) float32 ndarray
        Outside the picture, the border value is taken.

    Returns
    -------
    (N, K) float32 ndarray
    """
    values = np.empty(rows.shape, np.float32)
    for start in range(0, len(rows), MOST_ROWS):
        part = slice(start, start + MOST_ROWS)
        values[part] = cv2.remap(
            picture, columns[part], rows[part], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )
    return values


def ridge_points(response: NDArray[np.float32], candidates: NDArray[np.bool_]) -> RidgePoints:
    """Keep candidates that peak across their own line, and place them to a fraction of a pixel.

    Parameters
    ----------
    response : (H, W) float32 ndarray
        One polarity of `line_response`.
    candidates : (H, W) bool ndarray
        Where to look; usually response above a threshold.
    """
    inner = np.zeros(candidates.shape, bool)
    inner[1:-1, 1:-1] = candidates[1:-1, 1:-1]  # a crest needs a neighbour on either side
    place, light = np.flatnonzero(inner), response.ravel()
    width = response.shape[1]
    centre = light[place]
    # Neighbours along the axis that crosses the line more squarely: one crest for each step of it. Along
    # the exact normal both pixels beside a slanting line count, and two rows of points tear its chain apart.
    steep = _STEEP[direction_index(centre)]
    step = np.where(steep, 1, width)
    above, below = light[place + step], light[place - step]
    crest = np.flatnonzero((centre >= above) & (centre > below))
    place, steep = place[crest], steep[crest]
    centre, above, below = centre[crest], above[crest], below[crest]
    bend = np.maximum(2 * centre - above - below, 1e-6)
    offset = 0.5 * (above - below) / bend  # vertex of the parabola through three values
    pixels = np.column_stack(np.divmod(place, width))
    points = pixels.astype(np.float64)
    points[:, 0] += np.where(steep, 0, offset)
    points[:, 1] += np.where(steep, offset, 0)
    return RidgePoints(
        pixels=pixels,
        points=points,
        angle_rad=np.asarray(_ANGLES_RAD[direction_index(centre)], dtype=np.float64),
        response=centre,
    )
