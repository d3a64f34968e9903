"""The lines of one frame as points with directions, and how two such sets are held against each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from defectmap.film import tuning
from defectmap.film.homography import Homography, Points, transform_lines
from defectmap.panel.paths import Path, unit

if TYPE_CHECKING:
    from scipy.spatial import cKDTree


@dataclass(frozen=True, kw_only=True, eq=False)
class OrientedPoints:
    """Points on lines, with the unit vectors along them."""

    at: Points  # (N, 2) x, y
    along: Points  # (N, 2)

    def __len__(self) -> int:
        """Count the points."""
        return len(self.at)

    @property
    def across(self) -> Points:
        """(N, 2) unit vectors across the lines."""
        return np.column_stack([-self.along[:, 1], self.along[:, 0]])

    @cached_property
    def tree(self) -> cKDTree:
        """All points, `embedded` with `tuning.LEVER_PX`."""
        from scipy.spatial import cKDTree

        return cKDTree(self.embedded(tuning.LEVER_PX))

    def every(self, step: int) -> OrientedPoints:
        """One point of so many."""
        return OrientedPoints(at=self.at[::step], along=self.along[::step])

    def moved(self, homography: Homography) -> OrientedPoints:
        """As another frame has them."""
        at, along = transform_lines(homography, self.at, self.along)
        return OrientedPoints(at=at, along=along)

    def embedded(self, lever_px: float) -> NDArray[np.float64]:
        """(N, 4) place and doubled direction, so that near in these four is near and alike in direction.

        Parameters
        ----------
        lever_px : float
            Two directions that differ by a small angle lie 2 · lever · angle apart.
        """
        double = 2 * np.arctan2(self.along[:, 1], self.along[:, 0])
        return np.column_stack([self.at, lever_px * np.cos(double), lever_px * np.sin(double)])

    @classmethod
    def together(cls, parts: Sequence[OrientedPoints]) -> OrientedPoints:
        """Several sets end to end."""
        if not parts:
            return cls(at=np.empty((0, 2)), along=np.empty((0, 2)))
        return cls(at=np.concatenate([p.at for p in parts]), along=np.concatenate([p.along for p in parts]))


def along_line(points: Points, *, lever: int = tuning.TANGENT_PX) -> Points:
    """(N, 2) unit vectors along one line."""
    place = np.arange(len(points))
    step = points[np.minimum(place + lever, len(points) - 1)] - points[np.maximum(place - lever, 0)]
    return unit(step)


def oriented(paths: Sequence[Path], *, step: int = tuning.LINE_STEP_PX) -> OrientedPoints:
    """Thin out centrelines (row, column; about a point a pixel) to points with directions."""
    parts = []
    for path in paths:
        if len(path) < 4 * tuning.END_PX:
            continue
        points = path[:, ::-1]
        chosen = np.arange(tuning.END_PX, len(points) - tuning.END_PX, step)
        parts.append(OrientedPoints(at=points[chosen], along=along_line(points)[chosen]))
    return OrientedPoints.together(parts)
