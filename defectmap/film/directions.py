"""Which directions of groove the lamp's places could show, at each place of the panel: where a film is blind.

A groove sends the lamp to the camera only from where its walls mirror it: along the groove, at the foot of
the perpendicular from the hotspot, for as far as the lamp's own image and the roughness of the walls reach;
across, as far as the walls are steep. In units of the hotspot's radius both limits are the same for every
camera and distance; the figures in `tuning` are read off rendered films (tests/film/test_directions.py).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from defectmap.film import tuning
from defectmap.film.lines import OrientedPoints

BIN_RAD = np.pi / tuning.DIRECTION_BINS


@dataclass(frozen=True, slots=True, kw_only=True)
class LampPlace:
    """The hotspot of one frame, on the map."""

    x: float
    y: float
    radius_px: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rose:
    """For each cell of a grid and each direction of groove, how many lamp places could show it."""

    lamp_places: NDArray[np.uint8]  # (rows, columns, DIRECTION_BINS), saturated at 255
    cell_px: float
    zone_share: NDArray[np.float32]  # (rows, columns) share of the cell that is zone

    @property
    def covered(self) -> NDArray[np.bool_]:
        """(rows, columns, DIRECTION_BINS) whether any lamp place could show it."""
        return self.lamp_places > 0

    @property
    def share(self) -> float:
        """Share of all directions over the whole zone, 0 to 1."""
        total = float(self.zone_share.sum())
        each = self.covered.mean(axis=2)
        return float((each * self.zone_share).sum() / total) if total > 0 else 0.0

    def cells_of(self, points: NDArray[np.float64]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Row and column of the cell of each (N, 2) point x, y."""
        rows, columns = self.zone_share.shape
        column, row = np.floor((points + 0.5) / self.cell_px).astype(np.intp).T
        return np.clip(row, 0, rows - 1), np.clip(column, 0, columns - 1)


def rose(places: Sequence[LampPlace], zone: NDArray[np.bool_], *, cell_px: float) -> Rose:
    """Count, for each cell and direction, the lamp places that could have shown a standard groove there.

    Parameters
    ----------
    zone : (H, W) bool ndarray
        Of the map.
    """
    import cv2

    rows, columns = (max(1, int(np.ceil(side / cell_px))) for side in zone.shape)
    y, x = (np.mgrid[:rows, :columns] + 0.5) * cell_px - 0.5
    angle = (np.arange(tuning.DIRECTION_BINS) + 0.5) * BIN_RAD
    count = np.zeros((rows, columns, tuning.DIRECTION_BINS), np.uint16)
    for place in places:
        along, aside = _offsets(place, (x, y), angle)
        count += (
            (along <= tuning.LIT_ALONG_RADII)
            & (aside >= tuning.LIT_FROM_RADII)
            & (aside <= tuning.LIT_TO_RADII)
        )
    padded = np.zeros((int(np.ceil(rows * cell_px)), int(np.ceil(columns * cell_px))), np.float32)
    padded[: zone.shape[0], : zone.shape[1]] = zone[: padded.shape[0], : padded.shape[1]]
    share = cv2.resize(padded, (columns, rows), interpolation=cv2.INTER_AREA)
    return Rose(
        lamp_places=np.minimum(count, 255).astype(np.uint8),
        cell_px=cell_px,
        zone_share=np.asarray(share, np.float32),
    )


def best_shown(places: Sequence[LampPlace], cells: tuple[int, ...], *, cell_px: float) -> NDArray[np.float64]:
    """How well the best lamp place shows a groove, for each cell of a grid and each direction.

    Parameters
    ----------
    cells : (int, int)
        Rows and columns of the grid.

    Returns
    -------
    (rows, columns, DIRECTION_BINS) float64 ndarray
        Share of a groove's strength at the best lamp place of all, in the mean over rendered grooves.
    """
    y, x = (np.mgrid[: cells[0], : cells[1]] + 0.5) * cell_px - 0.5
    angle = (np.arange(tuning.DIRECTION_BINS) + 0.5) * BIN_RAD
    best = np.zeros((cells[0], cells[1], tuning.DIRECTION_BINS))
    for place in places:
        along, aside = _offsets(place, (x, y), angle)
        share = np.interp(aside, tuning.SHOWN_ASIDE_RADII, tuning.SHOWN_ASIDE)
        np.maximum(best, share * np.exp(-np.square(along / tuning.SHOWN_ALONG_RADII)), out=best)
    return best


def _offsets(
    place: LampPlace, at: tuple[NDArray[Any], NDArray[Any]], angle: NDArray[np.floating[Any]]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """(rows, columns, bins) how far a lamp lies along and aside of grooves at x, y, in its radii."""
    right, down = (at[0] - place.x)[..., None], (at[1] - place.y)[..., None]
    along = np.abs(right * np.cos(angle) + down * np.sin(angle)) / place.radius_px
    return along, np.abs(down * np.cos(angle) - right * np.sin(angle)) / place.radius_px


def lit_by(lamp: LampPlace, lines: OrientedPoints) -> NDArray[np.bool_]:
    """(N,) whether a lamp could light a groove through each point, with room to spare on all sides."""
    away = (lines.at - [lamp.x, lamp.y]) / lamp.radius_px
    along, aside = np.abs((away * lines.along).sum(1)), np.abs((away * lines.across).sum(1))
    longer, nearer, farther = tuning.LIT_MARGINS_RADII
    return np.asarray(
        (along <= tuning.LIT_ALONG_RADII + longer)
        & (aside >= tuning.LIT_FROM_RADII - nearer)
        & (aside <= tuning.LIT_TO_RADII + farther)
    )


def direction_bin(along: NDArray[np.float64]) -> NDArray[np.intp]:
    """Bin of (N, 2) vectors along lines (x, y): 0 is along a row, counted from right towards down.

    Examples
    --------
    >>> direction_bin(np.array([[1.0, 0.0], [-1.0, 0.01], [0.0, 1.0]])).tolist()
    [0, 17, 9]
    """
    angle = np.arctan2(along[:, 1], along[:, 0]) % np.pi
    return np.minimum(angle // BIN_RAD, tuning.DIRECTION_BINS - 1).astype(np.intp)
