"""What looks like a mark and is none: panel gap, tape edge, reflected door edge, dust."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

Obstacle = Literal["gap", "tape", "door"]
Image = NDArray[np.float32]
ToPx = Callable[[Any, Any], tuple[Any, Any]]

_FAR_MM = 1000.0
_TAPE = (0.006, 0.012, 0.03)  # linear RGB under the lamp at EV 0
_BEVEL = 0.02
_DOOR = 0.006
DUST_LIGHT = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Overlay:
    """Light becomes ``light * keep + add``; where `hides` is true no groove can be seen."""

    keep: Image  # (H, W), 0..1
    add: Image  # (H, W, 3)
    hides: NDArray[np.bool_]  # (H, W)


def overlay(
    kinds: tuple[Obstacle, ...],
    dust: NDArray[np.float64],
    *,
    to_px: ToPx,
    px_per_mm: float,
    size_px: tuple[int, int],
    half_mm: tuple[float, float],
) -> Overlay | None:
    """Everything that lies over the paint, or None where nothing does.

    Parameters
    ----------
    kinds : tuple of str
        ``gap``: dark joint along the left with a bright bevel each side. ``tape``: masking tape along the
        lower edge. ``door``: the mirror image of something brighter above a soft slanted edge.
    dust : (N, 3) ndarray
        Row, column and radius in px.
    half_mm : (float, float)
        Half the height and width of the picture on the panel, to place things inside the picture.
    """
    if not kinds and not len(dust):
        return None
    keep, add = np.ones(size_px, np.float32), np.zeros((*size_px, 3), np.float32)
    for row, column, radius in dust:
        _disc(keep, add, row, column, radius)
    solid = np.zeros(size_px, np.float32)
    up, right = half_mm

    def shape(corners: list[tuple[float, float]]) -> Image:
        return _polygon(corners, to_px, size_px)

    if "door" in kinds:
        # A mirror image adds to the light and hides nothing.
        edge = [(-up * 0.35, -_FAR_MM), (-up * 0.85, _FAR_MM), (-_FAR_MM, _FAR_MM), (-_FAR_MM, -_FAR_MM)]
        add += _DOOR * _soft(shape(edge), px_per_mm)[..., None]
    if "gap" in kinds:
        for (a, b), light in (((0.0, 4.6), _BEVEL), ((0.6, 4.0), 0.0)):
            _put(keep, add, solid, shape(_band(-right * 0.85, a, b)), (light, light, light))
    if "tape" in kinds:
        low = [(up * 0.86, -_FAR_MM), (up * 0.92, _FAR_MM), (_FAR_MM, _FAR_MM), (_FAR_MM, -_FAR_MM)]
        _put(keep, add, solid, shape(low), _TAPE)
    return Overlay(keep=keep, add=add, hides=solid > 0.5)


def _band(column_mm: float, start_mm: float, stop_mm: float) -> list[tuple[float, float]]:
    """A nearly upright band, leaning by 2 %."""
    a, b = column_mm + start_mm, column_mm + stop_mm
    lean = 0.02 * _FAR_MM
    return [(-_FAR_MM, a - lean), (-_FAR_MM, b - lean), (_FAR_MM, b + lean), (_FAR_MM, a + lean)]


def _put(keep: Image, add: Image, solid: Image, cover: Image, colour: tuple[float, float, float]) -> None:
    keep *= 1 - cover
    add *= 1 - cover[..., None]
    add += cover[..., None] * np.array(colour, np.float32)
    np.maximum(solid, cover, out=solid)


def _polygon(corners_mm: list[tuple[float, float]], to_px: ToPx, size_px: tuple[int, int]) -> Image:
    import cv2

    corners = np.array(corners_mm)
    row, column = to_px(corners[:, 0], corners[:, 1])
    mask = np.zeros(size_px, np.uint8)
    points = np.rint(np.column_stack([column, row]) * 16).astype(np.int32)
    cv2.fillPoly(mask, [points], 255, lineType=cv2.LINE_AA, shift=4)
    return mask.astype(np.float32) / np.float32(255)


def _soft(cover: Image, px_per_mm: float) -> Image:
    """A mirror image's edge is out of focus, by about 0.2 mm on the panel (invented)."""
    import cv2

    return np.asarray(cv2.GaussianBlur(cover, (0, 0), max(0.2 * px_per_mm, 0.3)), np.float32)


def _disc(keep: Image, add: Image, row: float, column: float, radius: float) -> None:
    """One speck: an opaque disc that scatters the lamp's light."""
    reach = int(np.ceil(radius)) + 1
    r0, c0 = max(round(row) - reach, 0), max(round(column) - reach, 0)
    r1, c1 = round(row) + reach + 1, round(column) + reach + 1
    part = (slice(r0, r1), slice(c0, c1))
    if keep[part].size == 0:
        return
    rows, columns = np.ogrid[r0 : r0 + keep[part].shape[0], c0 : c0 + keep[part].shape[1]]
    cover = np.clip(radius + 0.5 - np.hypot(rows - row, columns - column), 0, 1).astype(np.float32)
    cover *= np.float32(min(1.0, 4 * radius * radius))
    keep[part] *= 1 - cover
    add[part] += (cover * DUST_LIGHT)[..., None]
