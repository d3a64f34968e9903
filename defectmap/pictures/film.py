"""Pictures of a film: the light of all lamp places, before and after, and where it was blind."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from defectmap.film import tuning
from defectmap.film.assembling import FilmMeasurement
from defectmap.film.directions import BIN_RAD
from defectmap.film.overlaying import lay

_SEEN, _BLIND = (235, 170, 40), (60, 110, 190)  # RGB of directions shown and not shown
_PETAL = 0.46  # of a cell


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
    """The map, darkened, with roses on it: a stroke for each direction of groove the sweep could show.

    Strokes of directions that no lamp place could show are blue: there the film is blind.

    Returns
    -------
    (H, W, 3) uint8 ndarray
        RGB, in the size of a frame.
    """
    picture = np.asarray(film.fused_rgb // 3, np.uint8)
    rose, step = film.rose, tuning.ROSE_CELLS
    rows, columns, bins = rose.lamp_places.shape
    for row in range(step // 2, rows, step):
        for column in range(step // 2, columns, step):
            if rose.zone_share[row, column] < 0.5:
                continue
            x, y = ((n + 0.5) * rose.cell_px - 0.5 for n in (column, row))
            for number in range(0, bins, 2):
                shown = rose.covered[row, column, number : number + 2].any()
                turn = (number + 1) * BIN_RAD
                reach = _PETAL * step * rose.cell_px * np.array([np.cos(turn), np.sin(turn)])
                ends = np.round((np.array([x, y]) + np.stack([-reach, reach])) * 16).astype(np.int32)
                colour = _SEEN if shown else _BLIND
                cv2.line(picture, tuple(ends[0].tolist()), tuple(ends[1].tolist()), colour, 1, cv2.LINE_AA, 4)
    return picture
