"""The standard mark: an equivalent width of at least 100 µm along at least 1 mm. Figures rest on it alone.

The points of all lines are cut at once, end to end: there are hundreds of lines, at four strengths.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from defectmap.panel import tuning
from defectmap.panel.candidates import runs
from defectmap.panel.measurement import Mark
from defectmap.panel.paths import Paths, medians, steps_px


def by_standard(lines: Sequence[Mark], *, mm: float = 1.0) -> tuple[list[Mark], list[Mark]]:
    """Cut lines where their strength crosses the standard.

    Parameters
    ----------
    lines : sequence of Mark
        With their equivalent width at each point; a line without them is left out.
    mm : float
        One millimetre, in the unit of `Mark.length_mm`; pixels of a typical photograph where the scale is
        unknown.

    Returns
    -------
    marks, faint : list of Mark
        Pieces of at least 1 mm at or above the standard, and below it. A piece keeps the kind, width and
        contrast of its whole line.
        Fainter pieces than `tuning.FAINTEST_UM` are left out.
    """
    cut = _Lines.of(lines, mm=mm)
    strong = cut.signed_um >= tuning.STANDARD_UM
    marks, faint = cut.pieces(strong), cut.pieces(~strong)
    return marks, [mark for mark in faint if mark.equivalent_width_um >= tuning.FAINTEST_UM]


def spectrum(lines: Sequence[Mark], *, area_cm2: float, mm: float = 1.0) -> dict[int, float]:
    """Density of what is at least so strong along at least 1 mm, at each of `tuning.SPECTRUM_UM`, in mm/cm².

    Parameters
    ----------
    lines : sequence of Mark
        Standard marks and fainter ones.
    area_cm2 : float
        0 gives a density of 0.
    mm : float
        See `by_standard`.
    """
    if not area_cm2 > 0:
        return dict.fromkeys(tuning.SPECTRUM_UM, 0.0)
    cut = _Lines.of(lines, mm=mm)
    return {um: cut.length_at(um) / area_cm2 for um in tuning.SPECTRUM_UM}


@dataclass(frozen=True, slots=True, eq=False)
class _Runs:
    """Pieces of lines, by their points."""

    starts: NDArray[np.int64]
    stops: NDArray[np.int64]
    lengths: NDArray[np.float64]  # in the unit of `Mark.length_mm`


@dataclass(frozen=True, slots=True, eq=False)
class _Lines:
    """Lines laid end to end."""

    lines: Sequence[Mark]
    paths: Paths
    signed_um: NDArray[np.float32]  # strength at each point, positive where it has the line's own polarity
    steps: NDArray[np.float64]  # from the point before, in the unit of `Mark.length_mm`
    least: float  # shortest piece, in that unit

    @classmethod
    def of(cls, lines: Sequence[Mark], *, mm: float) -> _Lines:
        known = [line for line in lines if len(line.um)]
        paths = Paths.of([line.points for line in known])
        signed = [line.um if line.polarity == "bright" else -line.um for line in known]
        steps = steps_px(paths)
        total = np.add.reduceat(steps, paths.starts) if known else np.empty(0)
        whole = np.array([line.length_mm for line in known])
        share = np.divide(whole, total, out=np.zeros(len(known)), where=total > 0)
        return cls(
            known,
            paths,
            np.concatenate(signed) if known else np.empty(0, np.float32),
            steps * np.repeat(share, paths.lengths),
            tuning.STANDARD_LENGTH_MM * mm,
        )

    def runs(self, flags: NDArray[np.bool_]) -> _Runs:
        """Pieces of true values that are long enough."""
        starts, stops = runs(flags, self.paths)
        several = stops - starts > 1
        starts, stops = starts[several], stops[several]
        if not len(starts):
            return _Runs(starts, stops, np.empty(0))
        # sums from the point after each start to each stop; what lies between pieces is summed and left
        cuts = np.column_stack([starts + 1, stops]).ravel()
        lengths = np.add.reduceat(np.append(self.steps, 0.0), cuts)[::2]
        long = lengths >= self.least
        return _Runs(starts[long], stops[long], lengths[long])

    def length_at(self, um: float) -> float:
        """Length of all pieces at least so strong, with what their neighbours hide."""
        found = self.runs(self.signed_um >= um)
        stands = np.array([line.stands_for for line in self.lines])
        return float((found.lengths * stands[self.paths.owner[found.starts]]).sum())

    def pieces(self, flags: NDArray[np.bool_]) -> list[Mark]:
        """Marks of the pieces of true values."""
        found = self.runs(flags)
        sizes = found.stops - found.starts
        inside = Paths.between(found.starts, found.stops)
        strengths = medians(np.abs(self.signed_um[inside]), sizes)
        owner, first = self.paths.owner[found.starts], self.paths.starts
        marks = []
        for which, start, stop, length, um in zip(
            owner.tolist(),
            found.starts.tolist(),
            found.stops.tolist(),
            found.lengths.tolist(),
            strengths.tolist(),
            strict=True,
        ):
            at = int(first[which])
            piece = slice(start - at, stop - at)
            marks.append(self.lines[which].piece(piece, length_mm=length, equivalent_width_um=um))
        return marks
