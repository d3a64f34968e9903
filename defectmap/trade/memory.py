"""A shop's memory: on this paint, what did a step achieve before, over how many panels."""

from __future__ import annotations

import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from defectmap.trade.advice import Reachable, panels_counted
from defectmap.trade.table_forms import Range, Rung
from defectmap.words.remark import Remark, Value


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishedPanel:
    """One panel of one job, corrected, wiped and measured."""

    job: str
    panel: str
    paint: str
    steps: tuple[str, ...]  # keys of the correction steps on the whole panel, in order
    before: float  # density of marks, mm/cm²
    after: float
    haze_after: float | None
    minutes: float | None  # worked on those steps, where it was entered
    removal_um: Range  # as the steps estimate it


@dataclass(frozen=True, slots=True, kw_only=True)
class Experience:
    """What the same steps on the same paint achieved before."""

    paint: str
    steps: tuple[str, ...]
    panels: int
    change_percent: float  # median
    change_range: tuple[float, float]  # lowest and highest
    after: float  # median density of marks that was left
    minutes: float | None  # median over the panels where it was entered
    removal_um: Range  # the widest


def experiences(finished: Sequence[FinishedPanel], *, paint: str) -> tuple[Experience, ...]:
    """What was achieved on this paint, by the steps that were done; the most used first."""
    grouped: dict[tuple[str, ...], list[FinishedPanel]] = {}
    for one in finished:
        if one.paint == paint and one.before > 0:
            grouped.setdefault(one.steps, []).append(one)
    found = [_experience(paint, steps, panels) for steps, panels in grouped.items()]
    return tuple(sorted(found, key=lambda one: (-one.panels, one.steps)))


def reachable(finished: Sequence[FinishedPanel], *, paint: str) -> Reachable | None:
    """The best that the shop has reached on this paint; None where it has finished none."""
    own = [one for one in finished if one.paint == paint]
    if not own:
        return None
    haze = [one.haze_after for one in own if one.haze_after is not None]
    return Reachable(
        density_mm_per_cm2=min(one.after for one in own), haze=min(haze, default=None), panels=len(own)
    )


def remembered(found: Experience, name: str) -> Remark:
    """What there is to say about it.

    Parameters
    ----------
    name : str
        Of the steps, as people say it.
    """
    low, high = found.change_range
    values: dict[str, Value] = {
        "steps": name,
        "panels": panels_counted(found.panels),
        "change": found.change_percent,
        "low": low,
        "high": high,
        "minutes": found.minutes,
        "taken_low": found.removal_um.low,
        "taken_high": found.removal_um.high,
    }
    return Remark(code="done before" if found.minutes is None else "done before, timed", values=values)


def by_step(found: Sequence[Experience], ladder: Sequence[Rung]) -> dict[str, Remark]:
    """What is remembered of each correction step, alone or finished down, by its key."""
    names = {rung.key: rung.name for rung in ladder}
    said: dict[str, Remark] = {}
    for one in found:
        alone = len(one.steps) == 1 or (len(one.steps) == 2 and one.steps[1] == ladder[0].key)
        if alone and one.steps[0] not in said:
            said[one.steps[0]] = remembered(one, ", then ".join(names.get(key, key) for key in one.steps))
    return said


def _experience(paint: str, steps: tuple[str, ...], panels: Sequence[FinishedPanel]) -> Experience:
    changes = [100 * (one.after - one.before) / one.before for one in panels]
    minutes = [one.minutes for one in panels if one.minutes is not None]
    return Experience(
        paint=paint,
        steps=steps,
        panels=len(panels),
        change_percent=statistics.median(changes),
        change_range=(min(changes), max(changes)),
        after=statistics.median(one.after for one in panels),
        minutes=statistics.median(minutes) if minutes else None,
        removal_um=Range(
            low=min(one.removal_um.low for one in panels), high=max(one.removal_um.high for one in panels)
        ),
    )
