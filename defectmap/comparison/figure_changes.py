"""A change of one figure in words of numbers: percent, interval, or what a clean photograph proves."""

from __future__ import annotations

import math

import numpy as np

from defectmap.comparison.common import CommonTables
from defectmap.comparison.interval import Method, RatioInterval
from defectmap.comparison.outcome import Change, Figure
from defectmap.comparison.sampling import (
    NO_DOUBT,
    CaptureScatter,
    Draws,
    PairDoubt,
    block_draws,
    ratio_interval,
)
from defectmap.comparison.tuning import LEVEL
from defectmap.panel.measurement import MarkKind
from defectmap.words.remark import Remark

NO_MARK_SEEN = -math.log(1 - LEVEL)  # marks that 5 % of Poisson draws would still miss altogether: 3.00
KIND_OF: dict[Figure, MarkKind | None] = {
    "density all": None,
    "density swirl": "swirl",
    "density scratch": "scratch",
    "density trail": "trail",
}


def density_change(
    tables: CommonTables,
    figure: Figure,
    *,
    capture: CaptureScatter,
    limit_length_mm: float,
    doubt: PairDoubt = NO_DOUBT,
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
    doubt : PairDoubt, optional
        Of these two photographs; none if not given.
    seed : int, optional
        Of the bootstrap.

    Returns
    -------
    Change
        Without a percentage where the before photograph shows no mark.
    """
    kind = KIND_OF[figure]
    draws = block_draws(tables, kind, doubt=doubt, seed=seed)
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


def _clean_after(
    figure: Figure, tables: CommonTables, draws: Draws, *, before: float, limit_length_mm: float
) -> Change:
    """Nothing seen after: at least so much less, as up to three marks could have been missed by chance."""
    pieces = tables.before.pieces_mm
    mean_mm = max(float(pieces.mean()) if len(pieces) else 0.0, limit_length_mm)
    at_most = NO_MARK_SEEN * mean_mm / max(float(tables.after.area_cm2.sum()), 1e-9)
    least_before = float(np.quantile(draws.before, 1 - LEVEL))
    at_least = 100 * (1 - at_most / least_before) if least_before > at_most else 0.0
    at_least = at_least if at_least >= 1 else 0.0  # less than a percent is nothing to claim
    return none_after(figure, before, at_least, method="none seen")


def none_after(
    figure: Figure, before: float, at_least_percent: float, *, method: Method, where: str = ""
) -> Change:
    """No mark is left: so much less at least is proven; `where` as for `proven`."""
    return Change(
        figure=figure,
        before=before,
        after=0.0,
        change_percent=-100.0,
        ci95_percent=(-100.0, -at_least_percent),
        distinguishable=at_least_percent > 0,
        at_least_percent=at_least_percent,
        method=method,
        remark=proven(at_least_percent, where),
    )
