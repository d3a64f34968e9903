"""Marks that both photographs show: the same groove, seen twice."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from defectmap.comparison.common import AlignedPair
from defectmap.comparison.tuning import MIN_PAIRS, SAME_MARK_MM, SAME_MARK_SHARE
from defectmap.panel.measurement import Mark
from defectmap.panel.tuning import HALF_CORE_MM


@dataclass(frozen=True, slots=True, kw_only=True)
class Sharpness:
    """How the same marks look in two photographs."""

    width_ratio: float  # median width, after over before
    lost_steps: float  # ln of the share of a line's light that is read, after over before


def sharpness(overlay: AlignedPair) -> Sharpness | None:
    """Compare the widths of the same marks; None where the two share fewer than four.

    Correction leaves a deep scratch its width or makes it finer, never wider, so a wider picture of it is
    blur. Light is read within `HALF_CORE_MM` of a line: what a blur spreads farther is lost.

    Parameters
    ----------
    overlay : AlignedPair
        The pair, its place known from the paint.
    """
    if not (overlay.alignment.sure and overlay.before.scale.calibrated):
        return None
    widths = [
        (before.width_mm, after.width_mm * overlay.alignment.scale)
        for before, after in matched_marks(overlay)
        if before.width_mm > 0 and after.width_mm > 0
    ]
    if len(widths) < MIN_PAIRS:
        return None
    ratio = float(np.median([after / before for before, after in widths]))
    first, second = (float(np.median(side)) for side in zip(*widths, strict=True))
    return Sharpness(width_ratio=ratio, lost_steps=math.log(_read(second) / _read(first)))


def _read(width_mm: float) -> float:
    """Share of the light of a line as wide as a Gaussian at half height that lies within the core."""
    sd = width_mm / (2 * math.sqrt(2 * math.log(2)))
    return math.erf(HALF_CORE_MM / (math.sqrt(2) * sd))


def matched_marks(overlay: AlignedPair) -> list[tuple[Mark, Mark]]:
    """Pairs of before and after marks that lie on each other, at most one before mark for each after mark."""
    before, after = overlay.before.marks, overlay.after.marks
    if not (before and after):
        return []
    from scipy.spatial import cKDTree

    reach = SAME_MARK_MM * overlay.before.scale.px_per_mm
    if not overlay.before.scale.calibrated:
        reach = overlay.before.hotspot.radius_px / 20
    ground, owner = _thinned(before, reach)
    points, asked = _thinned(after, reach)
    distance, nearest = cKDTree(ground).query(overlay.to_before_px(points), distance_upper_bound=reach)
    owners = np.where(np.isfinite(distance), owner[np.minimum(nearest, len(owner) - 1)], -1)
    ends = np.searchsorted(asked, np.arange(len(after) + 1))
    pairs = []
    for mark, start, end in zip(after, ends[:-1], ends[1:], strict=True):
        found = _lies_on(owners[start:end])
        if found is not None and before[found].polarity == mark.polarity:
            pairs.append((before[found], mark))
    return pairs


def _thinned(marks: Sequence[Mark], reach: float) -> tuple[NDArray[np.float64], NDArray[np.intp]]:
    """Points of all marks, a quarter of `reach` apart or as they are, and the number of each one's mark."""
    every = max(1, int(reach / 4))  # points lie 1 px apart
    paths = [mark.points[::every] for mark in marks]
    return np.concatenate(paths), np.repeat(np.arange(len(paths)), [len(path) for path in paths])


def _lies_on(owners: NDArray[np.intp]) -> int | None:
    """The before mark next to most of a mark's points (-1: none near), if that is at least half of them."""
    near = owners[owners >= 0]
    if len(near) < SAME_MARK_SHARE * len(owners):
        return None
    counts = np.bincount(near)
    best = int(counts.argmax())
    return best if counts[best] >= SAME_MARK_SHARE * len(owners) else None
