"""Marks that both photographs show: the same groove, seen twice."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from defectmap.comparison import tuning
from defectmap.comparison.common import AlignedPair
from defectmap.panel.measurement import Mark
from defectmap.panel.tuning import HALF_CORE_MM, STANDARD_UM

QUARTILES_OF_NORMAL = 1.35  # between them, over the standard deviation


@dataclass(frozen=True, slots=True, kw_only=True)
class Sharpness:
    """How the same marks look in two photographs."""

    width_ratio: float  # median width, after over before
    lost_steps: float  # ln of the share of a line's light that is read, after over before


@dataclass(frozen=True, slots=True, kw_only=True)
class StrengthStep:
    """How much stronger the marks near the standard look in the after photograph."""

    step: float  # ln of the equivalent width of one mark, after over before: the median
    error: float  # standard error of that median


def strength_step(
    overlay: AlignedPair, factor: Callable[[NDArray[np.float64]], NDArray[np.float64]] | None = None
) -> StrengthStep | None:
    """Compare the strengths of the same marks; None where too few lie on each other or each went its own way.

    Marks are taken by the mean of both strengths, so that neither photograph chooses. What a camera or an app
    does to marks of one strength it does to all of them; correction takes some and leaves others.

    Parameters
    ----------
    overlay : AlignedPair
        The pair, its place known from the paint.
    factor : callable, optional
        What the after photograph's widths are multiplied by, see `line_light.line_light_factor`.
    """
    if not (overlay.alignment.sure and overlay.before.scale.calibrated):
        return None
    from scipy.spatial import cKDTree

    first = _strengths((*overlay.before.marks, *overlay.before.faint_marks))
    second = _strengths((*overlay.after.marks, *overlay.after.faint_marks))
    if first is None or second is None:
        return None
    reach = tuning.SAME_LINE_MM * overlay.before.scale.px_per_mm
    distance, nearest = cKDTree(first[0]).query(overlay.to_before_px(second[0]), distance_upper_bound=reach)
    near = np.isfinite(distance)
    before = first[1][nearest[near]]
    after = second[1][near] * (factor(second[0][near]) if factor else 1.0)
    alike = before * after > 0  # dark is not bright
    before, after, owner = np.abs(before[alike]), np.abs(after[alike]), second[2][near][alike]
    here = np.abs(0.5 * np.log(before * after) - math.log(STANDARD_UM)) < tuning.NEAR_STANDARD_STEPS
    marks = len(np.unique(owner[here]))
    if marks < tuning.STEADY_MARKS:
        return None
    low, middle, high = np.quantile(np.log(after[here] / before[here]), (0.25, 0.5, 0.75))
    spread = float(high - low) / QUARTILES_OF_NORMAL
    return (
        StrengthStep(step=float(middle), error=spread / math.sqrt(marks))
        if spread < tuning.STEADY_SPREAD
        else None
    )


def _strengths(
    marks: Sequence[Mark],
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.intp]] | None:
    """Points of all marks, their equivalent width there, and the number of each one's mark."""
    known = [mark for mark in marks if len(mark.um)]
    if not known:
        return None
    return (
        np.concatenate([mark.points for mark in known]),
        np.concatenate([mark.um for mark in known]).astype(np.float64),
        np.repeat(np.arange(len(known)), [len(mark.um) for mark in known]),
    )


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
    if len(widths) < tuning.MIN_PAIRS:
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

    reach = tuning.SAME_MARK_MM * overlay.before.scale.px_per_mm
    if not overlay.before.scale.calibrated:
        reach = overlay.before.hotspot.radius_px / tuning.SAME_MARK_PARTS
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
    if len(near) < tuning.SAME_MARK_SHARE * len(owners):
        return None
    counts = np.bincount(near)
    best = int(counts.argmax())
    return best if counts[best] >= tuning.SAME_MARK_SHARE * len(owners) else None
