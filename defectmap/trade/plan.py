"""The whole job: what to do, how long it takes, what it costs, what protects it, and when to come back."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal, get_args

from defectmap.errors import JobError
from defectmap.trade.advice import CAUTIONS, Advice
from defectmap.trade.budget import Budget, BudgetPlan, plan_steps
from defectmap.trade.care import Upkeep, protection_of, upkeep
from defectmap.trade.facts import PanelRecord
from defectmap.trade.quoting import Quote, WorkLine, quote
from defectmap.trade.surface import kinds_alike
from defectmap.trade.table_forms import Grade, Protection, Rung, Times
from defectmap.trade.tables import TradeTables
from defectmap.words.remark import Remark

Feel = Literal["smooth", "slightly rough", "rough"]
FEELS: tuple[str, ...] = get_args(Feel)
USUAL_FEEL: Feel = "slightly rough"  # of a car that comes in; our own suggestion until it was felt


@dataclass(frozen=True, slots=True, kw_only=True)
class JobPlan:
    """The plan of a job."""

    grade: Grade
    work: tuple[WorkLine, ...]
    corrections: Mapping[str, BudgetPlan]  # by panel
    upkeep: Upkeep
    quote: Quote
    hand_over: tuple[str, ...]
    cautions: tuple[Remark, ...]
    remarks: Mapping[str, tuple[Remark, ...]]  # by panel: what its film and its paint ask to heed

    @property
    def minutes(self) -> float:
        """Working time altogether."""
        return sum(line.minutes for line in self.work)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What the detailer decides on before planning."""

    feel: Feel  # of the washed paint
    months_since: float  # since the last decontamination
    corrections: Mapping[str, Sequence[tuple[Rung, int]]]  # by panel: steps with their sets
    protection: str  # key in the tables
    done_on: date  # day of hand-over, from which upkeep is counted
    paint: str = "unknown"  # of the vehicle


Corrections = dict[str, list[tuple[Rung, int]]]


def advised_corrections(found: Sequence[Advice]) -> Corrections:
    """The step advised for each panel, with finishing down where it leaves haze or buffer trails."""
    return {
        one.panel: [(rung, rung.sets) for rung in (one.rung, one.finish) if rung is not None]
        for one in found
        if one.rung is not None
    }


def not_settled(found: Sequence[Advice]) -> tuple[Advice, ...]:
    """The panels whose correction cannot be planned yet: something has to be looked at first."""
    return tuple(one for one in found if one.rung is None and not one.stops)


def decontamination_grade(feel: Feel, grades: Sequence[Grade]) -> Grade:
    """The mildest grade that is enough for the feel; dates decide nothing (common practice, no source).

    Raises
    ------
    JobError
        The feel is not known.
    """
    if feel not in FEELS:
        raise JobError(f"The feel {feel!r} is not known; use one of: {', '.join(FEELS)}.")
    return next((g for g in grades if FEELS.index(g.feel) >= FEELS.index(feel)), grades[-1])


def decontamination_cautions(grade: Grade, months_since: float) -> tuple[Remark, ...]:
    """What to heed with this grade, and a warning where it was not done for longer than is usual for it.

    Raises
    ------
    JobError
        The time is negative.
    """
    if not months_since >= 0:
        raise JobError(f"{months_since:g} months since the last decontamination cannot be right.")
    values = {"months": months_since, "usual": grade.up_to_months}
    passed = [Remark(code="months passed", values=values)] if months_since > grade.up_to_months else []
    clay = [Remark(code="caution clay")] if grade.clay else []
    remover = [Remark(code="caution remover")] if grade.remover else []
    return (*passed, *clay, *remover)


def correction_minutes(area_m2: float, rung: Rung, sets: int, *, times: Times) -> float:
    """Working time of a step on a panel: whole sections, each worked for its time in every set."""
    return math.ceil(area_m2 / times.section_m2 - 1e-9) * sets * rung.section_s / 60


def plan_job(
    panels: Sequence[PanelRecord], budgets: Sequence[Budget], wanted: Wanted, tables: TradeTables
) -> JobPlan:
    """Plan a job; a correction goes only as far as the clear coat of its panel allows.

    Parameters
    ----------
    panels, budgets : sequence
        The panels of the job and their budgets, in the same order.
    wanted : Wanted
        What is decided.

    Raises
    ------
    JobError
        A correction is wanted on a panel that the job has not, or the protection is not in the tables.
    """
    unknown = sorted(set(wanted.corrections) - {panel.name for panel in panels})
    if unknown:
        raise JobError(f"The job has no panel {unknown[0]!r}; correct its name in the plan.")
    grade = decontamination_grade(wanted.feel, tables.decontamination)
    corrections = {
        panel.name: plan_steps(budget, wanted.corrections.get(panel.name, ()))
        for panel, budget in zip(panels, budgets, strict=True)
    }
    protection = protection_of(wanted.protection, tables)
    work = tuple(_work(panels, grade, corrections, protection, tables.times, wanted.paint))
    care = [Remark(code="label decides", values={"source": protection.source})]
    if protection.key == "coating":
        care.append(Remark(code="coating air"))
    return JobPlan(
        grade=grade,
        work=work,
        corrections=corrections,
        upkeep=upkeep(protection, wanted.done_on),
        quote=quote(work, sum(bool(plan.steps) for plan in corrections.values()), tables.rates),
        hand_over=tuple(tables.checklists.get("hand-over", ())),
        remarks={budget.panel: budget.remarks for budget in budgets},
        cautions=(*decontamination_cautions(grade, wanted.months_since), *care, *CAUTIONS),
    )


def _work(
    panels: Sequence[PanelRecord],
    grade: Grade,
    corrections: Mapping[str, BudgetPlan],
    protection: Protection,
    times: Times,
    paint: str,
) -> list[WorkLine]:
    area = sum(panel.area_m2 for panel in panels)
    looks = times.inspect_minutes_per_panel * len(panels)
    steps = [(panel, step) for panel in panels for step in corrections[panel.name].steps]
    corrected = list(dict.fromkeys(panel.name for panel, _ in steps))
    work = [
        WorkLine(what="wash", panel=None, minutes=times.wash_minutes),
        WorkLine(what="decontaminate", panel=None, minutes=area * grade.minutes_per_m2, detail=grade.name),
        WorkLine(what="inspect before", panel=None, minutes=looks),
    ]
    tried: dict[object, str] = {}  # one test spot settles the step for panels of the same paint
    for panel, _ in steps:
        tried.setdefault(kinds_alike(panel, paint), panel.name)
    spot_minutes = times.test_spot_minutes
    work += [WorkLine(what="test spot", panel=name, minutes=spot_minutes) for name in tried.values()]
    for panel, step in steps:
        minutes = correction_minutes(panel.area_m2, step.rung, step.sets, times=times)
        work.append(WorkLine(what="correct", panel=panel.name, minutes=minutes, detail=step.rung.name))
    wipe_minutes = times.wipe_minutes_per_panel
    work += [WorkLine(what="wipe", panel=name, minutes=wipe_minutes) for name in corrected]
    work.append(WorkLine(what="inspect after", panel=None, minutes=looks))
    minutes = area * protection.minutes_per_m2
    work.append(WorkLine(what="protect", panel=None, minutes=minutes, detail=protection.name))
    return work
