"""What is usual over several jobs: each measured job counts once, and none is left out."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from defectmap.comparison.interval import mean_half_width
from defectmap.record.comparisons import comparisons_of
from defectmap.record.jobs import all_jobs
from defectmap.record.store import Store
from defectmap.trade.stages import BASELINE, PROOF

LEAST_JOBS = 3  # as for spots of a panel: below that there is no sample


@dataclass(frozen=True, slots=True, kw_only=True)
class JobResult:
    """One measured job; `change_percent` is the mean over its panels, None where none can be compared."""

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
    why_not: str = ""


def typical_result(jobs: Sequence[JobResult]) -> TypicalResult:
    """What is usual over these jobs.

    Parameters
    ----------
    jobs : sequence of JobResult
        Every measured job of the shop.
    """
    changes = [job.change_percent for job in jobs if job.change_percent is not None]
    if len(changes) < LEAST_JOBS:
        return TypicalResult(
            jobs=len(jobs),
            why_not=(
                f"One job shows what happened once: a usual result needs at least {LEAST_JOBS} measured "
                f"jobs, all of them in it; comparable ones here: {len(changes)}."
            ),
        )
    if len(changes) < len(jobs):
        return TypicalResult(
            jobs=len(jobs),
            why_not=(
                f"{len(jobs) - len(changes)} of {len(jobs)} measured jobs cannot be compared, so the rest is "
                "no fair picture of all."
            ),
        )
    mean = statistics.fmean(changes)
    half = mean_half_width(changes)
    return TypicalResult(
        jobs=len(jobs),
        mean_percent=mean,
        ci95_percent=(max(-100.0, mean - half), mean + half),
        least_percent=max(changes),
        most_percent=min(changes),
    )


def job_results(store: Store, *, before: str = BASELINE, after: str = PROOF) -> tuple[JobResult, ...]:
    """Every job of the record that was compared between these stages, the latest comparison of each panel."""
    results = []
    for job in all_jobs(store):
        latest = {
            one.panel: one.result
            for one in comparisons_of(store, job.reference)
            if (one.before_stage, one.after_stage) == (before, after)
        }
        if latest:
            changes = [result["density_mm_per_cm2"]["all"]["change_percent"] for result in latest.values()]
            known = [change for change in changes if change is not None]
            mean = statistics.fmean(known) if known else None
            results.append(JobResult(panels=len(latest), compared=len(known), change_percent=mean))
    return tuple(results)
