"""How strong each line of the map is at its best lamp place, in every frame, and the lines as marks."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from defectmap.film import tuning
from defectmap.film.homography import Points
from defectmap.film.joining import meetings, on_paths
from defectmap.film.pieces import Pieces
from defectmap.panel.candidates import runs
from defectmap.panel.kinds import kinds
from defectmap.panel.measurement import Mark, MarkKind
from defectmap.panel.paths import Paths, polyline_length_px
from defectmap.panel.tuning import STANDARD_UM


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lines:
    """Centrelines on the map, and what each frame shows of them."""

    paths: Paths  # x, y in px of the map
    um: NDArray[np.float32]  # (F, N) signed equivalent width in each frame used; 0 where it shows nothing
    beside: NDArray[np.float32]  # (N,) linear light beside, where the line is strongest
    contrast_to_noise: NDArray[np.float32]  # (N,) of the strongest piece there
    width_mm: NDArray[np.float32]  # (N,) of that piece

    def inside(self, zone: NDArray[np.bool_]) -> Lines:
        """Only the pieces that lie in a zone."""
        places = np.round(self.paths.points[:, ::-1]).astype(int)
        within = np.all((places >= 0) & (places < zone.shape), axis=1)
        within[within] = zone[tuple(places[within].T)]
        starts, stops = runs(within, self.paths)
        long = stops - starts >= 2
        chosen = [np.arange(a, b) for a, b in zip(starts[long], stops[long], strict=True)]
        kept = np.concatenate(chosen) if chosen else np.empty(0, np.intp)
        return Lines(
            paths=Paths(self.paths.points[kept], np.array([len(c) for c in chosen], np.int64)),
            um=self.um[:, kept],
            beside=self.beside[kept],
            contrast_to_noise=self.contrast_to_noise[kept],
            width_mm=self.width_mm[kept],
        )

    def without(self, frames: NDArray[np.bool_]) -> Lines:
        """As if some of the frames had not been used."""
        um = self.um.copy()
        um[frames] = 0.0
        return replace(self, um=um)


def strongest(lines: list[Points], pieces: Pieces, *, frames: int) -> Lines:
    """Read off the pieces how strong each point of the joined lines is in each frame.

    Parameters
    ----------
    lines : list of (N, 2) float64 ndarray
        From `joining.join`.
    frames : int
        How many were used.
    """
    paths = Paths.of(lines)
    point, place, _ = meetings(on_paths(paths), pieces)
    um = np.zeros((frames, len(paths.points)), np.float32)
    order = np.argsort(np.abs(pieces.um[place]), kind="stable")  # the strongest is written last
    point, place = point[order], place[order]
    owner = pieces.owner[place]
    um[pieces.frame[owner], point] = pieces.um[place]
    best = np.full(len(paths.points), -1, np.intp)
    best[point] = place
    known = np.maximum(best, 0)
    line = pieces.owner[known] if len(pieces.owner) else known
    return Lines(
        paths=paths,
        um=um,
        beside=np.where(best >= 0, pieces.beside[known], 0).astype(np.float32)
        if len(pieces.um)
        else um.sum(0),
        contrast_to_noise=pieces.contrast_to_noise[line] if len(pieces.um) else um.sum(0),
        width_mm=pieces.width_mm[line] if len(pieces.um) else um.sum(0),
    )


def bridged(at_best: NDArray[np.float32], paths: Paths, *, scale: float) -> NDArray[np.float32]:
    """Strength along lines with short dips filled up to what lies beside them, where some light is seen.

    A groove does not end and begin again within a millimetre; noise, and the change from one frame to the
    next, make it look so where it is near a limit (a closing: Serra, *Image Analysis and Mathematical
    Morphology*, 1982, from memory).

    Parameters
    ----------
    at_best : (N,) float32 ndarray
        0 and more.
    scale : float
        Pixels a millimetre, or what is taken for it.
    """
    from scipy.ndimage import maximum_filter1d, minimum_filter1d

    wide = round(tuning.DIP_MM * scale) | 1
    source, core = paths.padded(wide)
    along = np.where(core, at_best[source], np.float32(0))
    closed = minimum_filter1d(maximum_filter1d(along, wide), wide)[core]
    return np.where(at_best > tuning.DIP_UM, closed, at_best).astype(np.float32)


def line_marks(lines: Lines, *, px_per_mm: float, scale: float) -> list[Mark]:
    """Each line of the map as a mark, its strength at each point that of the frame that shows it best.

    Parameters
    ----------
    px_per_mm : float
        1 where the scale is unknown, so that lengths come in px.
    scale : float
        Pixels a millimetre, or what is taken for it.

    Returns
    -------
    list of Mark
        Points in row, column. `um` has the sign of the whole line, as a groove may be bright under one lamp
        place and dark under another; `lamp_places` is the most frames that show a point of it at the
        standard.
    """
    found = kinds(Paths(lines.paths.points[:, ::-1] / scale, lines.paths.lengths)) if len(lines.paths) else []
    best = np.abs(lines.um).argmax(axis=0) if len(lines.um) else np.empty(0, np.intp)
    signed = lines.um[best, np.arange(len(best))]
    if len(lines.paths):
        signed = np.copysign(bridged(np.abs(signed), lines.paths, scale=scale), signed)
    shown = (np.abs(lines.um) >= STANDARD_UM).sum(axis=0)
    split = lines.paths.split
    return [
        _mark(found[k], points, own, px_per_mm)
        for k, (points, own) in enumerate(
            zip(
                lines.paths.lines(),
                zip(
                    *map(split, (signed, lines.beside, lines.contrast_to_noise, lines.width_mm, shown)),
                    strict=True,
                ),
                strict=True,
            )
        )
    ]


def _mark(kind: MarkKind, points: Points, values: tuple[NDArray[Any], ...], px_per_mm: float) -> Mark:
    signed, beside, contrast_to_noise, width_mm, shown = values
    bright = float(np.median(signed)) >= 0
    um = np.abs(signed) if bright else -np.abs(signed)
    width = float(np.median(width_mm))
    strength = float(np.median(np.abs(um)))
    return Mark(
        kind=kind,
        polarity="bright" if bright else "dark",
        points=points[:, ::-1],
        length_mm=polyline_length_px(points) / px_per_mm,
        width_mm=width,
        # as high as a box of that width and strength
        contrast=strength / 1000 / max(width, tuning.LEAST_WIDTH_MM),
        contrast_to_noise=float(np.median(contrast_to_noise)),
        equivalent_width_um=strength,
        um=um,
        beside=beside,
        lamp_places=int(shown.max(initial=0)) or 1,
    )
