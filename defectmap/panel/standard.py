"""The standard mark: an equivalent width of at least 100 µm along at least 1 mm. Figures rest on it alone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from defectmap.panel.measurement import Mark
from defectmap.panel.tuning import FAINTEST_UM, SPECTRUM_UM, STANDARD_LENGTH_MM, STANDARD_UM


def by_standard(lines: Sequence[Mark], *, mm: float = 1.0) -> tuple[list[Mark], list[Mark]]:
    """Cut lines where their strength crosses the standard.

    Parameters
    ----------
    lines : sequence of Mark
        With their equivalent width at each point.
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
    marks: list[Mark] = []
    faint: list[Mark] = []
    for line in lines:
        strong = _signed(line) >= STANDARD_UM
        for flags, found in ((strong, marks), (~strong, faint)):
            found.extend(_piece(line, piece, length) for piece, length in _runs(line, flags, mm))
    return marks, [mark for mark in faint if mark.equivalent_width_um >= FAINTEST_UM]


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
    return {
        um: sum(length_above(line, um, mm=mm) for line in lines) / area_cm2 if area_cm2 > 0 else 0.0
        for um in SPECTRUM_UM
    }


def length_above(line: Mark, um: float, *, mm: float = 1.0) -> float:
    """Length of a line's pieces of at least 1 mm that are at least so strong, in the unit of its length."""
    return sum(length for _, length in _runs(line, _signed(line) >= um, mm))


def _signed(line: Mark) -> NDArray[np.float32]:
    """Strength along a line, positive where it has the line's own polarity."""
    return line.um if line.polarity == "bright" else -line.um


def _runs(line: Mark, flags: NDArray[np.bool_], mm: float) -> Iterator[tuple[slice, float]]:
    """Runs of true values at least 1 mm long, and their lengths."""
    steps = np.hypot(*np.diff(line.points, axis=0).T)
    total = float(steps.sum())
    if not total:
        return
    steps *= line.length_mm / total
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(np.int8), [0]])))
    for start, stop in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        length = float(steps[start : stop - 1].sum())
        if length >= STANDARD_LENGTH_MM * mm:
            yield slice(start, stop), length


def _piece(line: Mark, piece: slice, length: float) -> Mark:
    um = line.um[piece]
    return replace(
        line,
        points=line.points[piece],
        length_mm=length,
        equivalent_width_um=float(np.median(np.abs(um))),
        um=um,
        beside=line.beside[piece],
    )
