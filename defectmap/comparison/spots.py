"""Changes of one spot, and of several spots together.

One spot, or two: the spots themselves are what is compared, and the interval says nothing of the rest of the
panel;
draws of all their sectors are added up. Three spots and more are a sample of the panel: paired, logarithm of
the
ratio of means (Bonett & Price 2020), Student's factor for the number of spots. The scatter of the
photographs is part
of the scatter between spots then. Fieller's interval is used where the before mean is not clear of zero,
because it
says so (no bounds) where the logarithm would not.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from defectmap.comparison.common import CommonTables
from defectmap.comparison.figure_changes import (
    KIND_OF,
    bounded_change,
    clean_before,
    density_change,
    none_after,
)
from defectmap.comparison.interval import log_interval, spots_interval
from defectmap.comparison.outcome import Change, Figure, Scope
from defectmap.comparison.sampling import CaptureScatter, PairDoubt, block_draws, ratio_interval
from defectmap.comparison.setup_profile import SetupProfile
from defectmap.comparison.tuning import PANEL_SPOTS
from defectmap.panel.measurement import PanelMeasurement
from defectmap.words.remark import Remark

DENSITY_FIGURES: tuple[Figure, ...] = ("density all", "density swirl", "density scratch", "density trail")
PLAIN_FIGURES: tuple[Figure, ...] = ("longest scratch", "haze", "score")


def scope_of(spots: int) -> Scope:
    """What an interval from so many spots speaks of."""
    return "the panel" if spots >= PANEL_SPOTS else "these spots" if spots > 1 else "this spot"


def spot_changes(
    before: PanelMeasurement,
    after: PanelMeasurement,
    tables: CommonTables,
    *,
    setup: SetupProfile,
    doubt: PairDoubt,
    seed: int = 0,
) -> tuple[Change, ...]:
    """Every figure's change at one spot."""
    limit = before.detection_limit.length_mm
    changes = [
        density_change(
            tables, figure, capture=setup.capture(figure), limit_length_mm=limit, doubt=doubt, seed=seed
        )
        for figure in DENSITY_FIGURES
    ]
    for figure in PLAIN_FIGURES:
        values = plain_figure(before, figure), plain_figure(after, figure)
        changes.append(single_change(figure, *values, capture=setup.capture(figure), limit=limit))
    return tuple(changes)


def single_change(
    figure: Figure, before: float, after: float, *, capture: CaptureScatter, limit: float
) -> Change:
    """Change of a figure that each photograph gives once; its interval is that of two photographs' scatter.

    Parameters
    ----------
    figure : {"longest scratch", "haze", "score"}
        Which one.
    before, after : float
        The figure.
    capture : CaptureScatter
        Of one photograph.
    limit : float
        Shortest mark counted, mm: what "no scratch" means.
    """
    if math.isnan(before) or math.isnan(after):
        return Change(figure=figure, before=before, after=after, remark=Remark(code="no score"))
    if before <= 0:
        return clean_before(figure, after)
    if after <= 0:
        at_least = max(0.0, 100 * (1 - limit / before)) if figure == "longest scratch" else None
        interval = None if at_least is None else (-100.0, -at_least)
        return Change(
            figure=figure,
            before=before,
            after=after,
            change_percent=-100.0,
            ci95_percent=interval,
            distinguishable=None if at_least is None else at_least > 0,
            at_least_percent=at_least,
            remark=None if at_least is None else Remark(code="no scratch left", values={"limit": limit}),
        )
    found = log_interval(
        after / before, se_log=math.sqrt(2) * capture.relative, df=capture.df, method="capture"
    )
    return bounded_change(figure, before, after, found)


def joint_changes(
    spots: Sequence[tuple[Change, ...]],
    tables: Sequence[CommonTables],
    *,
    setup: SetupProfile,
    doubts: Sequence[PairDoubt],
    seed: int = 0,
) -> tuple[Change, ...]:
    """Changes of several spots together.

    Parameters
    ----------
    spots : sequence of tuple of Change
        Each spot's own changes, in one order of figures.
    tables : sequence of CommonTables
        Each spot's tables.
    setup : SetupProfile
        Scatter of one photograph.
    doubts : sequence of PairDoubt
        Of each spot, see `sampling.block_draws`.
    seed : int, optional
        Of the bootstrap.
    """
    if len(spots) == 1:
        return spots[0]
    together = []
    for number, first in enumerate(spots[0]):
        row = [changes[number] for changes in spots]
        if first.figure == "longest scratch":
            together.append(_longest(row, setup))
        elif len(spots) >= PANEL_SPOTS:
            together.append(panel_change(row))
        elif first.figure in KIND_OF:
            together.append(_these_spots(row, tables, setup=setup, doubts=doubts, seed=seed))
        else:
            means = [float(np.mean([getattr(one, side) for one in row])) for side in ("before", "after")]
            scatter = setup.capture(first.figure)
            capture = CaptureScatter(relative=scatter.relative / math.sqrt(len(row)), df=scatter.df)
            together.append(single_change(first.figure, *means, capture=capture, limit=0.0))
    return tuple(together)


def panel_change(row: Sequence[Change]) -> Change:
    """Change of one figure with the spots as a sample of the panel.

    Parameters
    ----------
    row : sequence of Change
        One figure at three spots or more.

    Returns
    -------
    Change
        Of the means over spots.
    """
    before = np.array([one.before for one in row])
    after = np.array([one.after for one in row])
    figure = row[0].figure
    if before.mean() <= 0:
        return clean_before(figure, float(after.mean()))
    if after.mean() <= 0:
        return _panel_clean(row)
    return bounded_change(figure, float(before.mean()), float(after.mean()), spots_interval(after, before))


def _panel_clean(row: Sequence[Change]) -> Change:
    """No mark at any spot after: the weakest spot's proof is what holds for all of them."""
    known = [one.at_least_percent for one in row if one.at_least_percent is not None]
    at_least = min(known) if known else 0.0
    before = float(np.mean([one.before for one in row]))
    return none_after(row[0].figure, before, at_least, method="none anywhere", where=" at every spot")


def _these_spots(
    row: Sequence[Change],
    tables: Sequence[CommonTables],
    *,
    setup: SetupProfile,
    doubts: Sequence[PairDoubt],
    seed: int,
) -> Change:
    figure = row[0].figure
    draws = [
        block_draws(table, KIND_OF[figure], doubt=doubt, seed=seed + number)
        for number, (table, doubt) in enumerate(zip(tables, doubts, strict=True))
    ]
    before = sum(one.value_before for one in draws) / len(draws)
    after = sum(one.value_after for one in draws) / len(draws)
    if before == 0:
        return clean_before(figure, after)
    if after == 0:
        return _panel_clean(row)
    return bounded_change(figure, before, after, ratio_interval(draws, capture=setup.capture(figure)))


def _longest(row: Sequence[Change], setup: SetupProfile) -> Change:
    """The longest scratch of all spots."""
    before, after = (max(getattr(one, side) for one in row) for side in ("before", "after"))
    capture = setup.capture("longest scratch")
    # a spot without a scratch after proves 100 (1 - limit / before) %: the limit is in its figures
    limits = [
        one.before * (1 - one.at_least_percent / 100) for one in row if one.at_least_percent is not None
    ]
    return single_change("longest scratch", before, after, capture=capture, limit=max(limits, default=0.0))


def plain_figure(measured: PanelMeasurement, figure: Figure) -> float:
    """A figure of one photograph in its own zone."""
    density = measured.density
    return {
        "density all": density.all,
        "density swirl": density.swirl,
        "density scratch": density.scratch,
        "density trail": density.trail,
        "longest scratch": measured.longest_scratch_mm,
        "haze": measured.haze,
        "score": math.nan if measured.score is None else measured.score,
    }[figure]
