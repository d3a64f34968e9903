"""What is usual over several jobs: each measured job counts once, and none is left out."""

from __future__ import annotations

import math
import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from defectmap.comparison.films_apart import film_share
from defectmap.comparison.interval import mean_half_width
from defectmap.record.comparisons import latest_comparisons
from defectmap.record.jobs import all_jobs
from defectmap.record.store import Store
from defectmap.trade.stages import BASELINE, PROOF
from defectmap.words.writer import ENGLISH, Writer

LEAST_JOBS = 3  # as for spots of a panel: below that there is no sample


@dataclass(frozen=True, slots=True, kw_only=True)
class JobResult:
    """One measured job; `change_percent` is that of its panels' mean density, None where it has none."""

    panels: int
    compared: int
    change_percent: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TypicalResult:
    """Mean over jobs with the interval of that mean (Student's t), and the extremes; or why there is none."""

    jobs: int
    mean_percent: float | None = None
    ci95_percent: tuple[float, float] | None = None
    least_percent: float = math.nan  # of the least improved job
    most_percent: float = math.nan
    comparable: int = 0  # jobs with a change


def typical_result(jobs: Sequence[JobResult]) -> TypicalResult:
    """What is usual over these jobs.

    Parameters
    ----------
    jobs : sequence of JobResult
        Every measured job of the shop.
    """
    changes = [job.change_percent for job in jobs if job.change_percent is not None]
    if len(changes) < LEAST_JOBS or len(changes) < len(jobs):
        return TypicalResult(jobs=len(jobs), comparable=len(changes))
    mean = statistics.fmean(changes)
    half = mean_half_width(changes)
    return TypicalResult(
        jobs=len(jobs),
        comparable=len(changes),
        mean_percent=mean,
        ci95_percent=(max(-100.0, mean - half), mean + half),
        least_percent=max(changes),
        most_percent=min(changes),
    )


def typical_words(found: TypicalResult, *, writer: Writer = ENGLISH) -> str:
    """Why nothing can be said of what is usual."""
    if found.comparable < LEAST_JOBS:
        return writer.tell(
            "One job shows what happened once: a usual result needs at least {least} measured jobs, all of "
            "them in it; comparable ones here: {comparable}.",
            least=LEAST_JOBS,
            comparable=found.comparable,
        )
    return writer.tell(
        "{apart} of {jobs} measured jobs cannot be compared, so the rest is no fair picture of all.",
        apart=found.jobs - found.comparable,
        jobs=found.jobs,
    )


def job_results(store: Store, *, before: str = BASELINE, after: str = PROOF) -> tuple[JobResult, ...]:
    """Every job of the record that was compared between these stages, the latest comparison of each panel."""
    results = []
    for job in all_jobs(store):
        latest = latest_comparisons(store, job.reference, before=before, after=after)
        if latest:
            results.append(_job_result([one.result for one in latest.values()]))
    return tuple(results)


def _job_result(panels: Sequence[Mapping[str, Any]]) -> JobResult:
    """Change of the panels' mean density; densities are averaged, not percentages."""
    found = [(panel.get("density_mm_per_cm2") or {}).get("all") or {} for panel in panels]
    known = [one for one in found if one.get("change_percent") is not None]
    if len({film_share(panel) is None for panel in panels}) > 1:
        # some panels filmed, others photographed: their densities make no mean
        return JobResult(panels=len(panels), compared=len(known), change_percent=None)
    before = math.fsum(one["before"] for one in known)
    change = 100 * (math.fsum(one["after"] for one in known) / before - 1) if before > 0 else None
    return JobResult(panels=len(panels), compared=len(known), change_percent=change)
