"""How much a density changed between two photographs of one spot, with a 95 % interval.

What is estimated is the change of the spot's paint, as photographs of it under this light show it: which
grooves
happen to catch the light in these two photographs is chance, and the interval holds it. Two sources of doubt
add:

* Which grooves: a circular block bootstrap over sectors about the hotspot, both photographs drawn together:
  they show the same paint. Blocks span 30 degrees, so that most marks stay in one piece: twelve blocks,
  eleven degrees of freedom. Where fewer than eight marks are left on a side the bootstrap sees too little;
  marks that stay or go one by one scatter at least as much as drawing lots would (binomial thinning), the
  floor there.
* The photograph itself: exposure, focus and noise move all sectors together. That part comes from the
  set-up's repeatability (`repeatability.ShotComponents.common`), once for each side.
* An exposure step that is left: what it can do to the density, evenly spread (type B of the GUM).

All act on the logarithm of the ratio; degrees of freedom by Welch and Satterthwaite.

A photograph sees an unknown part of a finite number of grooves. Against the share that is really left in the
picture the interval is therefore a little wide (it holds 97 to 98 % of simulated pairs), against the share of
all panels treated alike a little narrow (93 %): `benchmarks/compare_coverage.py`. Narrowing it for the first
would need the part that is seen, which no photograph tells.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from defectmap.comparison.blocks import BlockTable, exposure_slope, ring_weights, weighted_density
from defectmap.comparison.common import CommonTables
from defectmap.comparison.interval import LEVEL, RatioInterval, effective_df, log_interval
from defectmap.comparison.outcome import Change, Figure
from defectmap.panel.measurement import MarkKind
from defectmap.words.remark import Remark

BLOCK_SECTORS = 3
RESAMPLES = 2000
FEW_MARKS = 8
NO_MARK_SEEN = -math.log(1 - LEVEL)  # marks that 5 % of Poisson draws would still miss altogether: 3.00
KIND_OF: dict[Figure, MarkKind | None] = {
    "density all": None,
    "density swirl": "swirl",
    "density scratch": "scratch",
    "density trail": "trail",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class CaptureScatter:
    """Scatter of one photograph, as a share of the figure."""

    relative: float
    df: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Draws:
    """Both densities of one spot, and what they might have been: block bootstrap draws."""

    value_before: float
    value_after: float
    before: NDArray[np.float64]  # (B,)
    after: NDArray[np.float64]  # (B,)
    blocks: int
    effective_marks: tuple[float, float]  # equal marks that would scatter as much, before and after
    exposure_log: float  # ln of what the exposure step can do to the ratio


def density_change(
    tables: CommonTables,
    figure: Figure,
    *,
    capture: CaptureScatter,
    limit_length_mm: float,
    exposure_stops: float = 0.0,
    seed: int = 0,
) -> Change:
    """Change of a density between two photographs of one spot, at matched distance from the hotspot.

    Parameters
    ----------
    tables : CommonTables
        Both photographs in their common zone.
    figure : {"density all", "density swirl", "density scratch"}
        Which marks.
    capture : CaptureScatter
        Scatter of one photograph that all sectors share.
    limit_length_mm : float
        Shortest mark that is counted.
    exposure_stops : float, optional
        Exposure step between the two.
    seed : int, optional
        Of the bootstrap.

    Returns
    -------
    Change
        Without a percentage where the before photograph shows no mark.
    """
    kind = KIND_OF[figure]
    draws = block_draws(tables, kind, exposure_stops=exposure_stops, seed=seed)
    before, after = draws.value_before, draws.value_after
    if before == 0:
        return clean_before(figure, after)
    if after == 0:
        return _clean_after(figure, tables, draws, before=before, limit_length_mm=limit_length_mm)
    found = ratio_interval([draws], capture=capture)
    return bounded_change(figure, before, after, found)


def clean_before(figure: Figure, after: float) -> Change:
    """No percentage from nothing."""
    code = "marks from nothing" if after > 0 else "clean before"
    return Change(figure=figure, before=0.0, after=after, remark=Remark(code=code))


def proven(at_least_percent: float, where: str = "") -> Remark:
    """What a clean photograph after proves, rounded down; `where` ends the code.

    Examples
    --------
    >>> proven(96.8).code, proven(96.8).values["percent"], proven(0.0, " at every spot").code
    ('at least', 96, 'nothing after at every spot')
    """
    if at_least_percent < 1:
        return Remark(code=f"nothing after{where}")
    return Remark(code=f"at least{where}", values={"percent": math.floor(at_least_percent)})


def bounded_change(figure: Figure, before: float, after: float, found: RatioInterval) -> Change:
    """Turn the interval of a ratio into a change in percent."""
    low, high = found.change_interval_percent
    return Change(
        figure=figure,
        before=before,
        after=after,
        change_percent=found.change_percent,
        ci95_percent=(max(low, -100.0), high) if found.bounded else None,
        distinguishable=found.distinguishable if found.bounded else False,
        method=found.method,
        remark=_remark(figure, found),
    )


def _remark(figure: Figure, found: RatioInterval) -> Remark | None:
    if not found.bounded:
        return Remark(code="no bounds")
    if not found.distinguishable:
        return Remark(code="no change")
    if found.ratio > 1:
        return Remark(code="more marks" if figure.startswith("density") else "higher")
    return None


def block_draws(
    tables: CommonTables, kind: MarkKind | None, *, exposure_stops: float = 0.0, seed: int = 0
) -> Draws:
    """Draw blocks of neighbouring sectors with replacement, round the hotspot, the same ones on both sides.

    Politis & Romano 1992, circular block bootstrap.

    Parameters
    ----------
    tables : CommonTables
        Both photographs in their common zone.
    kind : MarkKind or None
        None for all kinds together.
    exposure_stops : float, optional
        Exposure step between the two.
    seed : int, optional
        Of the drawing.

    Returns
    -------
    Draws
    """
    sides = (tables.before, tables.after)
    weights = ring_weights(*sides, exposure_stops=exposure_stops)
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
        effective_marks=(_effective_marks(tables.before, kind), _effective_marks(tables.after, kind)),
        exposure_log=float((weights * exposure_slope(tables.before.edges_mm)).sum()) * exposure_stops,
    )


def ratio_interval(draws: Sequence[Draws], *, capture: CaptureScatter) -> RatioInterval:
    """Interval of the ratio of summed densities over one or several spots, for these spots themselves.

    Parameters
    ----------
    draws : sequence of Draws
        One for each spot; densities before and after add up to more than 0.
    capture : CaptureScatter
        Scatter of one photograph that all its sectors share.

    Returns
    -------
    RatioInterval
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
    sampling = max(blocked, thinning)
    capturing = 2 * capture.relative**2 / len(draws)
    exposure = float(np.mean([one.exposure_log for one in draws])) ** 2 / 3
    df = effective_df((sampling, capturing, exposure), (blocks - len(draws), capture.df, math.inf))
    return log_interval(
        after / before,
        se_log=math.sqrt(sampling + capturing + exposure),
        df=df,
        method="block bootstrap over sectors, capture repeatability, exposure step",
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


def _effective_marks(table: BlockTable, kind: MarkKind | None) -> float:
    """(sum l)² / sum l² of the marks inside; a kind's part of it by its share of the length."""
    pieces = table.pieces_mm
    if not len(pieces):
        return 0.0
    share = float(table.length_of(kind).sum() / table.length_mm.sum())
    return share * float(pieces.sum()) ** 2 / float((pieces**2).sum())


def _clean_after(
    figure: Figure,
    tables: CommonTables,
    draws: Draws,
    *,
    before: float,
    limit_length_mm: float,
) -> Change:
    """Nothing seen after: at least so much less, as up to three marks could have been missed by chance."""
    pieces = tables.before.pieces_mm
    mean_mm = max(float(pieces.mean()) if len(pieces) else 0.0, limit_length_mm)
    at_most = NO_MARK_SEEN * mean_mm / max(float(tables.after.area_cm2.sum()), 1e-9)
    least_before = float(np.quantile(draws.before, 1 - LEVEL))
    at_least = 100 * (1 - at_most / least_before) if least_before > at_most else 0.0
    at_least = at_least if at_least >= 1 else 0.0  # less than a percent is nothing to claim
    return Change(
        figure=figure,
        before=before,
        after=0.0,
        change_percent=-100.0,
        ci95_percent=(-100.0, -at_least),
        distinguishable=at_least > 0,
        at_least_percent=at_least,
        method="no mark seen after (Poisson, one-sided)",
        remark=proven(at_least),
    )
