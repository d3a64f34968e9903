"""Does the paint itself say where a frame lies? Lines that meet, held against as many as meet by chance.

Frames are laid where their lines meet best, and something meets best even where nothing is shared. So each
frame, and each cut through the film, has to show more meetings than the same lines show where they are laid
wrong on purpose; what cannot be confirmed is left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from defectmap.film import tuning
from defectmap.film.homography import Homography, shifted
from defectmap.film.lines import OrientedPoints


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Meetings:
    """Which frames' lines meet."""

    share: NDArray[np.float64]  # (F,) of a frame's points on a line of any other frame
    lines: NDArray[np.float64]  # (F, F) lines' worth of points of one frame on lines of another
    count: NDArray[np.float64]  # (F,) lines' worth of points of each frame


def confirmed(frames: Sequence[OrientedPoints], to_map: Sequence[Homography], *, film: bool) -> list[bool]:
    """Whether each frame is where the lines of the others say, and not where chance put it.

    Parameters
    ----------
    frames : sequence of OrientedPoints
        In their own pixels.
    to_map : sequence of (3, 3) float64 ndarray
    film : bool
        Whether they follow one another: then every cut through the film has to be bridged, and of parts that
        are not the largest is kept.
    """
    if len(frames) < 2:
        return [True] * len(frames)
    here = [lines.moved(h) for lines, h in zip(frames, to_map, strict=True)]
    true = _meetings(here)
    trials = [_meetings(_scattered(here, seed)) for seed in range(tuning.LAID_WRONG_TIMES)]
    by_chance = np.mean([trial.share for trial in trials], axis=0)
    sure = odds(true.share, by_chance, true.count) >= tuning.LEAST_ODDS
    if not film:
        return [bool(fits) for fits in sure]
    expected = np.mean([trial.lines for trial in trials], axis=0).sum() / true.count.sum() / len(frames)
    bridges = true.lines - expected * true.count[:, None]
    fewer = np.minimum(true.count[:, None], true.count)
    bridges[true.lines < np.maximum(tuning.OVER_CHANCE * expected, tuning.LEAST_SHARED) * fewer] = 0
    bridges = np.where(sure[:, None] & sure, bridges + bridges.T, 0) / 2
    return [bool(fits) for fits in sure & _largest_part(bridges, sure)]


def odds(
    share: NDArray[np.float64], by_chance: NDArray[np.float64], lines: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Logarithm of how much likelier so many meetings are than by chance, for that many lines.

    The divergence of two binomial shares (Kullback and Leibler, *Ann. Math. Statist.* 22:79, 1951, from
    memory); 0 where no more meet than by chance.

    Examples
    --------
    >>> odds(np.array([0.8, 0.1]), np.array([0.1, 0.1]), np.array([10.0, 10.0])).round(1).tolist()
    [13.6, 0.0]
    """
    low = np.clip(by_chance, tuning.LEAST_CHANCE, tuning.MOST_CHANCE)
    high = np.clip(np.maximum(share, low), tuning.LEAST_CHANCE, tuning.MOST_CHANCE)
    divergence = high * np.log(high / low) + (1 - high) * np.log((1 - high) / (1 - low))
    return np.asarray(lines * divergence)


def _meetings(here: Sequence[OrientedPoints]) -> Meetings:
    """Which frames' lines meet; some points of each are asked, and held against all of the others."""
    from scipy.spatial import cKDTree

    lines = OrientedPoints.together(here)
    owner = np.repeat(np.arange(len(here)), [len(own) for own in here])
    thin = len(lines) // tuning.CONFIRM_POINTS + 1
    asked = np.flatnonzero(np.concatenate([np.arange(len(own)) % thin == 0 for own in here]))
    places = lines.embedded(tuning.LEVER_PX)
    near = cKDTree(places[asked]).sparse_distance_matrix(
        cKDTree(places), 3 * tuning.CLOSE_PX, output_type="ndarray"
    )
    one, two = asked[near["i"]], near["j"]
    aside = np.abs(((lines.at[two] - lines.at[one]) * lines.across[two]).sum(1))
    met = (owner[one] != owner[two]) & (aside < tuning.CLOSE_PX)
    pairs = np.unique(one[met] * len(here) + owner[two[met]])
    table = np.zeros((len(here), len(here)))
    np.add.at(table, (owner[pairs // len(here)], pairs % len(here)), 1)
    counts = np.maximum(np.bincount(owner[asked], minlength=len(here)), 1).astype(np.float64)
    points = tuning.POINTS_OF_A_LINE / thin
    share = np.bincount(owner[np.unique(pairs // len(here))], minlength=len(here)) / counts
    return Meetings(share=share, lines=table / points, count=counts / points)


def _scattered(here: Sequence[OrientedPoints], seed: int) -> list[OrientedPoints]:
    """Each frame laid wrong, in a way of its own."""
    rng = np.random.default_rng([seed, len(here)])
    turn = rng.uniform(0, 2 * np.pi, len(here))
    far = rng.uniform(*tuning.LAID_WRONG_PX, len(here))
    steps = np.column_stack([far * np.cos(turn), far * np.sin(turn)])
    return [lines.moved(shifted(*step)) for lines, step in zip(here, steps.tolist(), strict=True)]


def _largest_part(lines: NDArray[np.float64], sure: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Cut the film wherever too few lines bridge, and keep the part with the most frames."""
    part, parts = 0, np.zeros(len(sure), np.intp)
    for number in range(1, len(sure)):
        part += int(sure[:number].any() and not _bridged(lines, number))
        parts[number] = part
    frames = np.bincount(parts, weights=sure)
    return np.asarray(parts == int(frames.argmax()))


def _bridged(lines: NDArray[np.float64], cut: int) -> bool:
    """Whether enough lines lead over a cut, from the frames beside it or from frames all over both parts.

    Frames next to each other have the lamp at much the same place. Two parts of which those share nothing,
    and of all other pairs few, meet by chance.
    """
    if lines[:cut, cut:].sum() < tuning.LEAST_BRIDGE:
        return False
    return bool(lines[cut - 1, cut] > 0 or (lines[:cut, cut:] > 0).mean() >= tuning.BRIDGE_PAIRS)
