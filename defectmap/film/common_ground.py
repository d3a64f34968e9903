"""Where two films speak of the same: places and directions that both show well, told as the better lamp does.

A groove at the limit counts in the film whose lamp happened to stand right, and not in the other. So each
film's grooves are told as the better lamp place of either sweep shows them at that place; it goes by how
grooves answer in the mean (`directions.best_shown`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from defectmap.film import tuning
from defectmap.film.assembling import FilmMeasurement
from defectmap.film.directions import LampPlace, Rose, best_shown, direction_bin, rose
from defectmap.film.homography import Homography, transform
from defectmap.film.joining import on_paths
from defectmap.film.lines import OrientedPoints

Cells = tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Common:
    """Where, and for which directions, both films speak; on the before film's grid."""

    grid: Rose
    zone: NDArray[np.bool_]  # (H, W) of both, px of the before map
    both: NDArray[np.bool_]  # (rows, columns, bins)
    cell_cm2: float
    # of before and after, (rows, columns, bins): times as strong as filmed, by the better lamp of either
    better: tuple[NDArray[np.float64], NDArray[np.float64]]

    @property
    def area_cm2(self) -> NDArray[np.float64]:
        """(bins,) area in which each direction could be shown by both."""
        return np.asarray((self.both * self.grid.zone_share[..., None]).sum(axis=(0, 1)) * self.cell_cm2)

    @property
    def share(self) -> float:
        """Of all directions over all of the common zone."""
        zone = float(self.grid.zone_share.sum())
        return float((self.both.mean(axis=2) * self.grid.zone_share).sum() / zone) if zone else 0.0

    def cells(self, film: FilmMeasurement, to_before: Homography) -> tuple[OrientedPoints, Cells]:
        """A film's points on the before map, and each one's row, column and bin of direction."""
        here = on_paths(film.lines.paths).moved(to_before)
        return here, (*self.grid.cells_of(here.at), direction_bin(here.along))


def common_of(before: FilmMeasurement, after: FilmMeasurement, to_before: Homography) -> Common:
    """Places and directions that both films show well.

    Parameters
    ----------
    to_before : (3, 3) float64 ndarray
        Px of the after map to those of the before map.
    """
    import cv2

    shape = before.panel.zone.shape
    warped = cv2.warpPerspective(
        after.panel.zone.view(np.uint8), to_before, shape[::-1], flags=cv2.INTER_NEAREST
    )
    zone = before.panel.zone & (np.asarray(warped) > 0)
    cell = tuning.CELL_MM * before.window_scale
    grid = rose(before.lamps, zone, cell_px=cell)
    cells = grid.zone_share.shape
    one = best_shown(before.lamps, cells, cell_px=cell)
    other = best_shown([_moved(lamp, to_before) for lamp in after.lamps], cells, cell_px=cell)
    best, least = np.maximum(one, other), tuning.LEAST_SHOWN
    return Common(
        grid=grid,
        zone=zone,
        both=np.minimum(one, other) >= least,
        cell_cm2=(cell / before.panel.scale.px_per_mm) ** 2 / 100,
        better=(_times(best, one), _times(best, other)),
    )


def _times(best: NDArray[np.float64], own: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.clip(best / np.maximum(own, 1e-6), 1.0, tuning.MOST_TIMES)


def levelled(
    film: FilmMeasurement, common: Common, to_before: Homography, better: NDArray[np.float64]
) -> FilmMeasurement:
    """The film as the better lamp place of either sweep would show it.

    Parameters
    ----------
    to_before : (3, 3) float64 ndarray
        The film's map to the before map.
    better : (rows, columns, bins) float64 ndarray
        The film's own of `Common.better`.
    """
    _, cells = common.cells(film, to_before)
    times = better[cells].astype(np.float32)
    return replace(film, lines=replace(film.lines, um=film.lines.um * times))


def _moved(lamp: LampPlace, to_before: Homography) -> LampPlace:
    here = np.array([[lamp.x, lamp.y], [lamp.x + lamp.radius_px, lamp.y]])
    (x, y), edge = transform(to_before, here)
    return LampPlace(x=float(x), y=float(y), radius_px=float(np.hypot(*(edge - [x, y]))))
