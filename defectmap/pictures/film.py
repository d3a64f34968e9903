"""Pictures of a film: the light of all lamp places, before and after, and where it was blind."""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from defectmap.film.assembling import FilmMeasurement
from defectmap.film.directions import BIN_RAD
from defectmap.film.overlaying import lay

_SEEN, _BLIND = (176, 138, 66), (92, 164, 255)  # RGB of directions shown and not shown
_PETAL, _SEEN_REACH = 0.46, 0.62  # of a cell; of the stroke of a direction that is blind
_LEAST_WIDTH_PX, _LEAST_ZONE = 1000, 0.5  # of the picture; share of a cell that must be zone
_CELLS_A_ROSE = 3  # each way


def fused_pair(
    before: FilmMeasurement, after: FilmMeasurement
) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """The fused light of two films, the after film laid on the before film; for a slider.

    Both are coded alike (`film.fusing.glints`), so that a groove that is still there is as bright in both,
    and nothing else was done to either.

    Returns
    -------
    before, after : (H, W) uint8 ndarray
        In the size of the before film's frames; 0 where the after film does not reach.
    """
    height, width = before.panel.zone.shape
    one, other = before.fused_rgb[..., 0], after.fused_rgb[..., 0]
    laid = cv2.warpPerspective(other, lay(before, after).to_before, (width, height))
    return np.asarray(one), np.asarray(laid, np.uint8)


def directions_picture(film: FilmMeasurement) -> NDArray[np.uint8]:
    """The map, darkened, with roses on it: a stroke for each direction of groove.

    Directions that the sweep could show are drawn thin and dim, those that no lamp place could show bright
    and blue: there the film is blind.

    Returns
    -------
    (H, W, 3) uint8 ndarray
        RGB; a whole number of times the size of a frame, at least `_LEAST_WIDTH_PX` wide.
    """
    height, width = film.panel.zone.shape
    grow = max(1, math.ceil(_LEAST_WIDTH_PX / width))
    small = np.asarray(film.fused_rgb // 3, np.uint8)
    picture: NDArray[np.uint8] = np.empty((grow * height, grow * width, 3), np.uint8)
    cv2.resize(small, (grow * width, grow * height), interpolation=cv2.INTER_LINEAR, dst=picture)
    rose, step = film.rose, _CELLS_A_ROSE
    rows, columns = rose.zone_share.shape
    reach = _PETAL * step * rose.cell_px * grow
    for row in range(step // 2, rows, step):
        for column in range(step // 2, columns, step):
            if rose.zone_share[row, column] >= _LEAST_ZONE:
                x, y = ((n + 0.5) * rose.cell_px * grow - 0.5 for n in (column, row))
                _draw_rose(picture, (x, y), rose.covered[row, column], reach_px=reach)
    return np.asarray(picture, np.uint8)


def _draw_rose(
    picture: NDArray[np.uint8], at: tuple[float, float], covered: NDArray[np.bool_], *, reach_px: float
) -> None:
    for shown in (True, False):  # the blind ones above the others
        for number in range(0, len(covered), 2):
            if bool(covered[number : number + 2].any()) is not shown:
                continue
            turn = (number + 1) * BIN_RAD
            aside = (1.0 if not shown else _SEEN_REACH) * reach_px * np.array([np.cos(turn), np.sin(turn)])
            ends = np.round((np.array(at) + np.stack([-aside, aside])) * 16).astype(np.int32)
            colour, thick = (_SEEN, 1) if shown else (_BLIND, 3)
            cv2.line(picture, tuple(ends[0].tolist()), tuple(ends[1].tolist()), colour, thick, cv2.LINE_AA, 4)
