"""Kinds of marks, told by shape and company: swirl marks, scratches, buffer trails."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from defectmap.panel import tuning
from defectmap.panel.measurement import MarkKind
from defectmap.panel.paths import Paths, lengths_px, radii_px, resample, tangents


def kinds(lines_mm: Paths) -> list[MarkKind]:
    """Kind of each mark of a photograph.

    Parameters
    ----------
    lines_mm : Paths
        Every mark, row and column in mm of panel.
    """
    lengths, radii = lengths_px(lines_mm).tolist(), radii_px(lines_mm).tolist()
    single = [kind_of(length_mm=a, radius_mm=b) for a, b in zip(lengths, radii, strict=True)]
    trails = in_trails(lines_mm)
    return ["trail" if trail else kind for kind, trail in zip(single, trails.tolist(), strict=True)]


def kind_of(*, length_mm: float, radius_mm: float) -> MarkKind:
    """Tell a scratch from a swirl mark by how long and how straight it is.

    Swirl marks come from washing and machine pads: short pieces of circles. What scratched the paint once ran
    long and straight. Length times radius of the bend parts them: the figure is fitted on rendered panels,
    where it puts about four fifths of the length of scratches and nine tenths of that of swirl marks in
    place. Contrast, width, place and what lies in line with a mark were tried and add nothing.

    Parameters
    ----------
    length_mm, radius_mm : float
        Of the line, and of the circle it bends on.
    """
    if radius_mm > tuning.BENT_MM and length_mm * min(radius_mm, tuning.STRAIGHT_MM) > tuning.SCRATCH_MM2:
        return "scratch"
    return "swirl"


def in_trails(lines_mm: Paths) -> NDArray[np.bool_]:
    """Whether each line belongs to a buffer trail: many lines side by side on one course.

    A machine's pad draws fine lines by the dozen, all along its own course (common practice, no source);
    washing leaves arcs in every direction and bunches of a few. A line with seven companions, each within
    5 mm beside it, 3 degrees and half of its length, lies amid a trail; lines beside two of those are its
    border. On 79 rendered photographs without trails, bunches of up to four and up to 55 mm/cm² of marks in
    them, none was found; of drawn trails half to nine tenths of the length are.

    Parameters
    ----------
    lines_mm : Paths
        Row and column in mm of panel.

    Returns
    -------
    (P,) bool ndarray
    """
    count = len(lines_mm)
    one, other = _companions(lines_mm)
    amid = np.bincount(one, minlength=count) >= tuning.TRAIL_CORE
    trail = amid
    for _ in range(tuning.TRAIL_GROWTH):
        trail = amid | (np.bincount(one, weights=trail[other], minlength=count) >= tuning.TRAIL_RIM)
    return trail


def _companions(lines_mm: Paths) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Pairs of lines that run side by side, each pair named from both sides."""
    from scipy.spatial import cKDTree

    lengths = lengths_px(lines_mm)
    long = np.flatnonzero(lengths >= tuning.TRAIL_LEAST_MM)
    nothing = np.empty(0, np.int64)
    if len(long) <= tuning.TRAIL_CORE:
        return nothing, nothing
    steps = resample(lines_mm.keep(lengths >= tuning.TRAIL_LEAST_MM), step_px=1.0)
    owner, along = steps.owner, tangents(steps)
    pairs = cKDTree(steps.points).query_pairs(
        np.hypot(tuning.TRAIL_BESIDE_MM, tuning.TRAIL_ABREAST_MM), output_type="ndarray"
    )
    pairs = pairs[owner[pairs[:, 0]] != owner[pairs[:, 1]]]
    here, there = np.concatenate([pairs, pairs[:, ::-1]]).T
    ahead = np.abs(((steps.points[there] - steps.points[here]) * along[here]).sum(1))
    turn = np.abs(along[here, 0] * along[there, 1] - along[here, 1] * along[there, 0])
    beside = (ahead <= tuning.TRAIL_ABREAST_MM) & (turn < np.sin(np.deg2rad(tuning.TRAIL_PARALLEL_DEG)))
    # points of a line that have the other line beside them, each counted once
    met = np.unique(np.column_stack([here[beside], owner[there[beside]]]), axis=0)
    lines, points = np.unique(np.column_stack([owner[met[:, 0]], met[:, 1]]), axis=0, return_counts=True)
    one, other = lines.T
    together = points >= tuning.TRAIL_TOGETHER * np.minimum(steps.lengths[one], steps.lengths[other])
    return long[one[together]], long[other[together]]
