"""Which pieces of traced paths are marks: those that stand out enough, for long enough, as a line does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from defectmap.panel import tuning
from defectmap.panel.background import Background
from defectmap.panel.contrast import LineLight, gather, running_contrast, width_px
from defectmap.panel.kinds import kinds
from defectmap.panel.measurement import Mark, Polarity, Sharpening
from defectmap.panel.paths import Path, Paths, extend, lengths_px, paint
from defectmap.panel.sharpening import sharpening
from defectmap.panel.strength import equivalent_width
from defectmap.panel.threads import both


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Candidate:
    """A piece of a path that stands out."""

    polarity: Polarity
    points: Path
    evidence: LineLight
    strength: float  # median contrast to noise
    width_px: float


def judge(
    paths: Paths,
    luminance: NDArray[np.float32],
    grain: Background,
    inside: NDArray[np.bool_],
    *,
    gain: float,
    polarity: Polarity,
    scale: float,
    floor: float = 0.0,
) -> list[Candidate]:
    """Cut paths where the contrast falls below the limit, and keep pieces long and sure enough.

    Parameters
    ----------
    paths : Paths
        Traced centrelines, one point a pixel.
    luminance : (H, W) float32 ndarray
    grain : Background
        See `grain.grain_factor`.
    inside : (H, W) bool ndarray
        Zone.
    gain : float
        See `noise.noise_gain`.
    polarity : "bright" or "dark"
    scale : float
        Pixels a millimetre.
    floor : float
        Contrast to noise of a pixel that is asked for in any case.
    """
    longer, traced = _extended(paths, inside)
    window = max(tuning.LEAST_WINDOW_PX, round(tuning.CONTRAST_WINDOW_MM * scale)) | 1
    shortest = max(tuning.LEAST_LENGTH_PX, tuning.LEAST_LENGTH_MM * scale)
    evidence = gather(luminance, longer, gain=gain, polarity=polarity)
    contrast = running_contrast(evidence, longer, window_px=window)
    texture = _at(grain, longer.points)
    least = np.maximum(np.float32(tuning.SEEN_FROM) * texture, np.float32(floor))
    starts, stops = runs(contrast >= least, longer)
    known = np.concatenate([[0], np.cumsum(traced)])
    long = (stops - starts >= shortest) & (known[stops] - known[starts] >= tuning.TRACED_SHARE * shortest)
    found = []
    for start, stop in zip(starts[long].tolist(), stops[long].tolist(), strict=True):
        piece = _candidate(longer.points, evidence, slice(start, stop), polarity)
        if _is_sure(piece, traced[start:stop], texture[start:stop]):
            found.append(piece)
    return found


def _candidate(points: Path, evidence: LineLight, piece: slice, polarity: Polarity) -> Candidate:
    part = evidence.part(piece)
    return Candidate(
        polarity=polarity,
        points=points[piece],
        evidence=part,
        strength=middle(part.contrast_to_noise),
        width_px=width_px(part.profile, polarity),
    )


def _is_sure(piece: Candidate, sure: NDArray[np.bool_], texture: NDArray[np.float32]) -> bool:
    """Whether a piece is long for its width, and stands out of the paint's own texture for its length."""
    if len(sure) < tuning.LENGTH_PER_WIDTH * (piece.width_px - tuning.SLIM_PX):
        return False
    values = piece.evidence.contrast_to_noise[sure]
    hump = max(0.0, middle(piece.evidence.hump[sure]))
    excess = (middle(values) - hump) / middle(texture[sure])
    return bool(excess * np.sqrt(len(values) / tuning.SIGNIFICANT_PX) >= tuning.SIGNIFICANCE)


def _at(grain: Background, points: Path) -> NDArray[np.float32]:
    """(N,) value of the block that each point lies in."""
    blocks = (points / grain.block_px).astype(int)
    rows, columns = np.clip(blocks, 0, np.array(grain.blocks.shape) - 1).T
    return np.asarray(grain.blocks[rows, columns])


def _extended(paths: Paths, inside: NDArray[np.bool_]) -> tuple[Paths, NDArray[np.bool_]]:
    """Go on beyond both ends, where the filters fade before the line does, but never out of the zone.

    Returns
    -------
    longer : Paths
        Of each line its longest piece in the zone.
    traced : (N,) bool ndarray
        Points that were no extension.
    """
    whole = extend(paths, by_px=tuning.EXTEND_PX)
    _, traced = paths.padded(tuning.EXTEND_PX)
    places = np.round(whole.points).astype(int)
    within: NDArray[np.bool_] = np.all((places >= 0) & (places < inside.shape), axis=1)
    within[within] = inside[tuple(places[within].T)]
    starts, stops = runs(within, whole)
    owner = whole.owner[starts]
    order = np.lexsort((starts, starts - stops, owner))  # by line, then the longest
    _, first = np.unique(owner[order], return_index=True)
    best = np.sort(order[first])
    best = best[(stops - starts)[best] >= tuning.LEAST_LENGTH_PX]
    lengths = (stops - starts)[best]
    pieces = Paths(np.empty((int(lengths.sum()), 2)), lengths)
    source = np.arange(len(pieces.points)) + (starts[best] - pieces.starts)[pieces.owner]
    return Paths(whole.points[source], lengths), traced[source]


def runs(flags: NDArray[np.bool_], paths: Paths) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Start and stop of each run of true values, none going on from one line into the next.

    Examples
    --------
    >>> runs(np.array([True, True, False, True]), Paths(np.zeros((4, 2)), np.array([1, 3])))
    (array([0, 1, 3]), array([1, 2, 4]))
    """
    fresh = np.zeros(len(flags) + 1, bool)  # the first place of a line, and the end
    fresh[paths.starts] = fresh[-1] = True
    before = np.concatenate([[False], flags])
    after = np.concatenate([flags, [False]])
    return np.nonzero(after & (fresh | ~before))[0], np.nonzero(before & (fresh | ~after))[0]


def middle(values: NDArray[np.float32]) -> float:
    """The upper median: several times faster than `np.median` on the short runs that come by the thousand."""
    ranked, half = values.copy(), len(values) // 2
    ranked.partition(half)  # the method: the function's checks take as long as the sorting
    return float(ranked[half])


def without_doubles(
    candidates: Sequence[Candidate], shape: tuple[int, ...], *, scale: float
) -> list[Candidate]:
    """Cut off what runs along a stronger line; strongest first.

    Of two lines that part ways, or of a line found twice of which one goes on, only the common part is met
    twice. Where lines cross, both are kept whole.

    Parameters
    ----------
    shape : (int, int)
        Of the photograph.
    scale : float
        Pixels a millimetre.

    Returns
    -------
    list of Candidate
        What is left of a line that was cut is kept where it is twice as long as a mark has to be.
    """
    shortest = max(tuning.LEAST_LENGTH_PX, tuning.LEAST_LENGTH_MM * scale)
    taken: dict[Polarity, NDArray[np.uint8]] = {way: np.zeros(shape, np.uint8) for way in ("bright", "dark")}
    kept = []
    for candidate in sorted(candidates, key=lambda c: -c.strength * min(len(c.points), 100)):
        for piece in _free_pieces(candidate, taken[candidate.polarity], shortest):
            # not every point: a thick line is drawn anew at each corner
            corners = np.concatenate([piece.points[: -1 : tuning.PAINT_STEP_PX], piece.points[-1:]])
            for way, mask in taken.items():
                paint(
                    mask,
                    corners,
                    width_px=tuning.OWN_STRIP_PX if way == piece.polarity else tuning.LOBE_STRIP_PX,
                )
            kept.append(piece)
    return kept


def _free_pieces(candidate: Candidate, taken: NDArray[np.uint8], shortest: float) -> list[Candidate]:
    places = np.round(candidate.points).astype(int)
    covered = taken[places[:, 0], places[:, 1]] > 0
    if not covered.any():
        return [candidate]
    if (~covered).sum() < shortest:
        return []
    alone = Paths(candidate.points, np.array([len(candidate.points)]))
    for start, stop in zip(*runs(covered, alone), strict=True):
        at_an_end = start == 0 or stop == len(covered)
        if stop - start < (tuning.JOINT_PX if at_an_end else tuning.CROSSING_PX):
            covered[start:stop] = False
    if not covered.any():
        return [candidate]
    return [
        _candidate(candidate.points, candidate.evidence, slice(start, stop), candidate.polarity)
        for start, stop in zip(*runs(~covered, alone), strict=True)
        if stop - start >= tuning.REMNANT * shortest
    ]


def centrelines(candidates: Sequence[Candidate]) -> Paths:
    """Their points, end to end."""
    return Paths.of([c.points for c in candidates])


def as_marks(
    lines: list[Candidate], luminance: NDArray[np.float32], *, px_per_mm: float, scale: float
) -> tuple[list[Mark], Sharpening | None]:
    """Candidates as marks, with their kind and equivalent width, and the sharpening that is taken back in it.

    Parameters
    ----------
    luminance : (H, W) float32 ndarray
        Linear light 0..1.
    px_per_mm, scale : float
        What lengths are divided by, and the same with a typical figure where the scale is unknown.
    """
    paths = centrelines(lines)
    bright = centrelines([line for line in lines if line.polarity == "bright"])
    done, found = both(
        lambda: sharpening(luminance, bright), lambda: kinds(Paths(paths.points / scale, paths.lengths))
    )
    um, beside = (paths.split(v) for v in equivalent_width(luminance, paths, px_per_mm=scale, done=done))
    marks = []
    for i, (line, length) in enumerate(zip(lines, lengths_px(paths).tolist(), strict=True)):
        evidence = line.evidence
        contrast = np.abs(evidence.line - evidence.surround) / np.maximum(
            evidence.surround, tuning.DARKEST_AROUND
        )
        marks.append(
            Mark(
                kind=found[i],
                polarity=line.polarity,
                points=line.points,
                length_mm=length / px_per_mm,
                width_mm=line.width_px / px_per_mm,
                contrast=middle(contrast),
                contrast_to_noise=line.strength,
                equivalent_width_um=middle(np.abs(um[i])),
                um=um[i],
                beside=beside[i],
            )
        )
    return marks, done
