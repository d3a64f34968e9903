"""Marks that both photographs show: the same groove, seen twice."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from defectmap.comparison.common import Overlay
from defectmap.results import Mark

NEAR_MM = 0.35  # centrelines of one groove, pose and pixels allowed for
MIN_PAIRS = 4
MIN_SHARE = 0.5  # of the after mark's points


def width_ratio(overlay: Overlay) -> float:
    """Median width of the same marks, after over before; NaN where the two share fewer than four marks.

    Correction leaves a deep scratch its width or makes it finer, never wider, so a wider picture of it is
    blur.

    Parameters
    ----------
    overlay : Overlay
        The pair, its place known from the paint.

    Returns
    -------
    float
    """
    if not overlay.alignment.sure:
        return math.nan
    pairs = matched_marks(overlay)
    ratios = [
        after.width_mm * overlay.alignment.scale / before.width_mm
        for before, after in pairs
        if before.width_mm > 0 and after.width_mm > 0
    ]
    return float(np.median(ratios)) if len(ratios) >= MIN_PAIRS else math.nan


def matched_marks(overlay: Overlay) -> list[tuple[Mark, Mark]]:
    """Pairs of before and after marks that lie on each other, at most one before mark for each after mark."""
    before, after = overlay.before.marks, overlay.after.marks
    if not (before and after):
        return []
    from scipy.spatial import cKDTree

    owner = np.concatenate([np.full(len(mark.points), number) for number, mark in enumerate(before)])
    tree = cKDTree(np.concatenate([mark.points for mark in before]))
    reach = NEAR_MM * overlay.before.scale.px_per_mm
    if not overlay.before.scale.calibrated:
        reach = overlay.before.hotspot.radius_px / 20
    pairs = []
    for mark in after:
        found = _lies_on(overlay.to_before_px(mark.points), tree, owner, reach)
        if found is not None and before[found].polarity == mark.polarity:
            pairs.append((before[found], mark))
    return pairs


def _lies_on(points: NDArray[np.float64], tree: object, owner: NDArray[np.intp], reach: float) -> int | None:
    """The before mark next to most of the points, if at least half of them have it near."""
    distance, nearest = tree.query(points, distance_upper_bound=reach)  # type: ignore[attr-defined]
    near = np.isfinite(distance)
    if near.mean() < MIN_SHARE:
        return None
    counts = np.bincount(owner[nearest[near]])
    best = int(counts.argmax())
    return best if counts[best] >= MIN_SHARE * len(points) else None
