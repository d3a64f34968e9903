"""What the sectors of two photographs say of the scatter of a density ratio.

What is estimated is the change of the spot's paint, as photographs of it under this light show it: which
grooves happen to catch the light in these two photographs is chance, and the interval holds it. What adds up:

* Which grooves: a circular block bootstrap over sectors about the hotspot, both photographs drawn together:
  they show the same paint. Blocks span 30 degrees, so that most marks stay in one piece: twelve blocks,
  eleven degrees of freedom. Where few marks are left on a side the bootstrap sees too little; marks that stay
  or go one by one scatter at least as much as drawing lots would (binomial thinning), the floor there.
* The photograph itself: how the hand holds it moves all sectors together. That part comes from the set-up's
  repeatability (`repeatability.ShotComponents.common`), once for each side.
* Where the lamp's reflection lay: moved, it lights other grooves (`doubt.lamp_share`). Sectors that happen to
  agree hide that, so no photograph scatters less than rendered pairs do whose lamp moved as far.
* How strong a mark looks through each camera (`doubt.strength_doubt`): a doubt of strength moves the
  limit, and the density by its slope there (`line_light.strength_slope`).

All act on the logarithm of the ratio; degrees of freedom by Welch and Satterthwaite.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from defectmap.comparison.blocks import BlockTable, ring_weights, weighted_density
from defectmap.comparison.common import CommonTables
from defectmap.comparison.interval import RatioInterval, effective_df, log_interval
from defectmap.comparison.tuning import BLOCK_SECTORS, FEW_MARKS, RESAMPLES
from defectmap.panel.measurement import MarkKind


@dataclass(frozen=True, slots=True, kw_only=True)
class CaptureScatter:
    """Scatter of one photograph, as a share of the figure."""

    relative: float
    df: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PairDoubt:
    """What two photographs of one spot differ by, that is none of its paint."""

    strength_log: float = 0.0  # standard deviation of ln(ratio) by how strong marks look through each camera
    lamp_share: float = 0.0  # variance of ln(density) for a single mark by which grooves the lamp lights


NO_DOUBT = PairDoubt()


@dataclass(frozen=True, slots=True, kw_only=True)
class Draws:
    """Both densities of one spot, and what they might have been: block bootstrap draws."""

    value_before: float
    value_after: float
    before: NDArray[np.float64]  # (B,)
    after: NDArray[np.float64]  # (B,)
    blocks: int
    effective_marks: tuple[float, float]  # equal marks that would scatter as much, before and after
    doubt: PairDoubt


def block_draws(
    tables: CommonTables, kind: MarkKind | None, *, doubt: PairDoubt = NO_DOUBT, seed: int = 0
) -> Draws:
    """Draw blocks of neighbouring sectors with replacement, round the hotspot, the same ones on both sides.

    Politis & Romano 1992, circular block bootstrap.

    Parameters
    ----------
    tables : CommonTables
        Both photographs in their common zone.
    kind : MarkKind or None
        None for all kinds together.
    doubt : PairDoubt, optional
        Of these two photographs; none if not given.
    seed : int, optional
        Of the drawing.
    """
    sides = (tables.before, tables.after)
    weights = ring_weights(*sides)
    sectors = tables.before.area_cm2.shape[0]
    counts = _block_counts(sectors, seed)
    drawn = [
        weighted_density(
            _drawn_sums(counts, side.length_of(kind)), _drawn_sums(counts, side.area_cm2), weights=weights
        )
        for side in sides
    ]
    values = [
        float(weighted_density(side.length_of(kind).sum(0), side.area_cm2.sum(0), weights=weights))
        for side in sides
    ]
    return Draws(
        value_before=values[0],
        value_after=values[1],
        before=drawn[0],
        after=drawn[1],
        blocks=sectors // BLOCK_SECTORS,
        effective_marks=(effective_marks(tables.before, kind), effective_marks(tables.after, kind)),
        doubt=doubt,
    )


def ratio_interval(draws: Sequence[Draws], *, capture: CaptureScatter) -> RatioInterval:
    """Interval of the ratio of summed densities over one or several spots, for these spots themselves.

    Parameters
    ----------
    draws : sequence of Draws
        One for each spot; densities before and after add up to more than 0.
    capture : CaptureScatter
        Scatter of one photograph that all its sectors share.
    """
    before, after = sum(one.value_before for one in draws), sum(one.value_after for one in draws)
    blocks = sum(one.blocks for one in draws)
    boots = np.cov(
        np.sum([one.after for one in draws], axis=0), np.sum([one.before for one in draws], axis=0)
    )
    scatter = boots[0, 0] / after**2 + boots[1, 1] / before**2 - 2 * boots[0, 1] / (before * after)
    # n/(n-1) for each spot's own blocks: the bootstrap's variance is that of a population, not of a sample
    blocked = max(0.0, float(scatter)) * draws[0].blocks / (draws[0].blocks - 1)
    marks = [sum(one.effective_marks[side] for one in draws) for side in (0, 1)]
    thinning = abs(1 / marks[1] - 1 / marks[0]) if 0 < min(marks) < FEW_MARKS else 0.0
    lit = float(np.mean([one.doubt.lamp_share for one in draws])) * sum(1 / one for one in marks if one > 0)
    sampling = max(blocked, thinning, lit)
    capturing = 2 * capture.relative**2 / len(draws)
    # all spots of a comparison went through the same two cameras, so more of them do not make this less
    strength = float(np.mean([one.doubt.strength_log for one in draws])) ** 2
    df = effective_df((sampling, capturing, strength), (blocks - len(draws), capture.df, math.inf))
    return log_interval(
        after / before, se_log=math.sqrt(sampling + capturing + strength), df=df, method="sectors"
    )


def _block_counts(sectors: int, seed: int) -> NDArray[np.float64]:
    """(RESAMPLES, sectors): how often each sector is in each draw."""
    starts = np.random.default_rng(seed).integers(0, sectors, (RESAMPLES, sectors // BLOCK_SECTORS))
    cells = (starts + sectors * np.arange(RESAMPLES)[:, None]).ravel()
    begun = np.bincount(cells, minlength=RESAMPLES * sectors).reshape(RESAMPLES, sectors).astype(np.float64)
    return np.asarray(sum(np.roll(begun, step, axis=1) for step in range(BLOCK_SECTORS)))


def _drawn_sums(counts: NDArray[np.float64], by_sector: NDArray[np.float64]) -> NDArray[np.float64]:
    """(RESAMPLES, R) sums over the drawn sectors; so narrow a product is not worth waking BLAS threads."""
    return np.asarray(np.einsum("bs,sr->br", counts, by_sector))


def effective_marks(table: BlockTable, kind: MarkKind | None = None) -> float:
    """Equal marks that would scatter as much: (sum l)² / sum l² of those inside; a kind's by its share."""
    pieces = table.pieces_mm
    if not len(pieces):
        return 0.0
    share = float(table.length_of(kind).sum() / table.length_mm.sum())
    return share * float(pieces.sum()) ** 2 / float((pieces**2).sum())
