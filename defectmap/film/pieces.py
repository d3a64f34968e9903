"""All lines of all frames, laid on the map: points end to end, each with its line, frame and strength."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from defectmap.film import tuning
from defectmap.film.homography import Homography, Points, transform
from defectmap.film.lines import OrientedPoints, along_line
from defectmap.panel.measurement import Mark

if TYPE_CHECKING:
    from scipy.spatial import cKDTree


@dataclass(frozen=True, eq=False)
class Pieces:
    """Lines found in single frames, on the map."""

    lines: OrientedPoints  # (N,) points, a line after the other
    counts: NDArray[np.intp]  # (L,) points of each line
    frame: NDArray[np.intp]  # (L,) which of the frames used shows it
    merit: NDArray[np.float64]  # (L,) length in points times the root of its contrast to noise
    um: NDArray[np.float32]  # (N,) signed equivalent width
    beside: NDArray[np.float32]  # (N,) linear light beside
    contrast_to_noise: NDArray[np.float32]  # (L,)
    width_mm: NDArray[np.float32]  # (L,)

    @cached_property
    def starts(self) -> NDArray[np.intp]:
        """(L,) first point of each line."""
        return np.asarray(np.cumsum(self.counts) - self.counts, np.intp)

    @cached_property
    def owner(self) -> NDArray[np.intp]:
        """(N,) which line each point belongs to."""
        return np.repeat(np.arange(len(self.counts)), self.counts)

    @cached_property
    def tree(self) -> cKDTree:
        """All points by place and direction."""
        from scipy.spatial import cKDTree

        return cKDTree(self.lines.embedded(tuning.JOIN_LEVER_PX))

    def points_of(self, line: int) -> Points:
        """(n, 2) points of one line."""
        start = self.starts[line]
        return self.lines.at[start : start + self.counts[line]]


def gather(frames: Sequence[Sequence[Mark]], to_map: Sequence[Homography]) -> Pieces:
    """Lay the marks of frames on the map.

    Parameters
    ----------
    frames : sequence of sequence of Mark
        Of each frame used every line, of the standard or fainter, in its own pixels.
    to_map : sequence of (3, 3) float64 ndarray
    """
    parts, counts, frame, merit, um, beside = [], [], [], [], [], []
    chosen: list[Mark] = []
    for number, (marks, homography) in enumerate(zip(frames, to_map, strict=True)):
        for mark in marks:
            points = transform(homography, mark.points[:: tuning.PIECE_STEP_PX, ::-1])
            parts.append(OrientedPoints(at=points, along=along_line(points)))
            counts.append(len(points))
            frame.append(number)
            merit.append(len(points) * min(mark.contrast_to_noise, tuning.CLEAR_CONTRAST_TO_NOISE) ** 0.5)
            um.append(mark.um[:: tuning.PIECE_STEP_PX])
            beside.append(mark.beside[:: tuning.PIECE_STEP_PX])
            chosen.append(mark)
    return Pieces(
        lines=OrientedPoints.together(parts),
        counts=np.array(counts, np.intp),
        frame=np.array(frame, np.intp),
        merit=np.array(merit, np.float64),
        um=np.concatenate(um) if um else np.empty(0, np.float32),
        beside=np.concatenate(beside) if beside else np.empty(0, np.float32),
        contrast_to_noise=np.array([m.contrast_to_noise for m in chosen], np.float32),
        width_mm=np.array([m.width_mm for m in chosen], np.float32),
    )
