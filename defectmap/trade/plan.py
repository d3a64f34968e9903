"""The whole job: what to do, how long it takes, what it costs, what protects it, and when to come back."""

from __future__ import annotations

import calendar
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from typing import Literal, get_args

from defectmap.errors import JobError
from defectmap.trade.advice import CAUTIONS
from defectmap.trade.budget import Budget, BudgetPlan, plan_steps
from defectmap.trade.facts import PanelRecord
from defectmap.trade.tables import Grade, Protection, Rates, Rung, Times, TradeTables
from defectmap.words.counting import counted

Feel = Literal["smooth", "slightly rough", "rough"]
FEELS: tuple[str, ...] = get_args(Feel)
CENT = Decimal("0.01")


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkLine:
    """One piece of work; `panel` is None for the whole vehicle."""

    what: str
    panel: str | None
    minutes: float


@dataclass(frozen=True, slots=True, kw_only=True)
class QuoteLine:
    """One line of the quote."""

    what: str
    amount: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Quote:
    """What the job costs at the shop's own rates; `priced` is False while the shop has entered none."""

    currency: str
    lines: tuple[QuoteLine, ...]
    net: Decimal
    tax: Decimal
    total: Decimal
    priced: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Upkeep:
    """How long the protection lasts, and when to look at it; the range is wide because life is."""

    protection: Protection
    checks: tuple[date, ...]
    renew_from: date
    renew_until: date


@dataclass(frozen=True, slots=True, kw_only=True)
class JobPlan:
    """The plan of a job."""

    grade: Grade
    work: tuple[WorkLine, ...]
    corrections: Mapping[str, BudgetPlan]  # by panel
    upkeep: Upkeep
    quote: Quote
    hand_over: tuple[str, ...]
    cautions: tuple[str, ...]

    @property
    def minutes(self) -> float:
        """Working time altogether."""
        return sum(line.minutes for line in self.work)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What the detailer decides on before planning."""

    feel: Feel  # of the washed paint
    months_since: float  # since the last decontamination
    corrections: Mapping[str, Sequence[tuple[Rung, int]]]  # by panel: steps with their passes
    protection: str  # key in the tables
    done_on: date  # day of hand-over, from which upkeep is counted


def decontamination_grade(feel: Feel, months_since: float, grades: Sequence[Grade]) -> Grade:
    """The mildest grade that is enough both for the feel and for the time (common practice, no source).

    Raises
    ------
    JobError
        The feel is not known, or the time is negative.
    """
    if feel not in FEELS:
        raise JobError(f"The feel {feel!r} is not known; use one of: {', '.join(FEELS)}.")
    if not months_since >= 0:
        raise JobError(f"{months_since:g} months since the last decontamination cannot be right.")
    for grade in grades:
        if FEELS.index(grade.feel) >= FEELS.index(feel) and grade.up_to_months >= months_since:
            return grade
    return grades[-1]


def correction_minutes(area_m2: float, rung: Rung, passes: int, *, times: Times) -> float:
    """Working time of a step on a panel: whole sections, each worked for its time in every pass."""
    return math.ceil(area_m2 / times.section_m2 - 1e-9) * passes * rung.section_s / 60


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
    grade = decontamination_grade(wanted.feel, wanted.months_since, tables.decontamination)
    corrections = {
        panel.name: plan_steps(budget, wanted.corrections.get(panel.name, ()))
        for panel, budget in zip(panels, budgets, strict=True)
    }
    protection = _protection(wanted.protection, tables)
    work = tuple(_work(panels, grade, corrections, protection, tables.times))
    return JobPlan(
        grade=grade,
        work=work,
        corrections=corrections,
        upkeep=upkeep(protection, wanted.done_on),
        quote=quote(work, sum(bool(plan.steps) for plan in corrections.values()), tables.rates),
        hand_over=tuple(tables.checklists.get("hand-over", ())),
        cautions=(*dict.fromkeys(remark for budget in budgets for remark in budget.remarks), *CAUTIONS),
    )


def upkeep(protection: Protection, done_on: date) -> Upkeep:
    """Dates of the checks up to the earliest end of its life, and from when to when to renew it."""
    earliest = add_months(done_on, protection.life_months.low)
    checks = []
    number = 1
    while (day := add_months(done_on, number * protection.check_months)) < earliest:
        checks.append(day)
        number += 1
    return Upkeep(
        protection=protection,
        checks=tuple(checks),
        renew_from=earliest,
        renew_until=add_months(done_on, protection.life_months.high),
    )


def add_months(day: date, months: float) -> date:
    """The same day so many whole months later, or the last of a shorter month.

    Examples
    --------
    >>> add_months(date(2026, 8, 31), 6)
    datetime.date(2027, 2, 28)
    """
    index = day.year * 12 + day.month - 1 + round(months)
    year, month = index // 12, index % 12 + 1
    return date(year, month, min(day.day, calendar.monthrange(year, month)[1]))


def quote(work: Sequence[WorkLine], corrected_panels: int, rates: Rates) -> Quote:
    """Price the work by kind, each line rounded half up to the cent; tax is on their sum."""
    by_kind: dict[str, float] = {}
    for line in work:
        by_kind[line.what] = by_kind.get(line.what, 0.0) + line.minutes
    lines = [
        QuoteLine(
            what=f"{what}, {minutes / 60:.2f} h",
            amount=_cents(Decimal(str(minutes)) / 60 * rates.hour),
        )
        for what, minutes in by_kind.items()
    ]
    if corrected_panels and rates.material_per_panel:
        lines.append(
            QuoteLine(
                what=f"material, {counted(corrected_panels, 'panel')}",
                amount=_cents(corrected_panels * rates.material_per_panel),
            )
        )
    net = sum((line.amount for line in lines), Decimal(0))
    tax = _cents(net * rates.tax_percent / 100)
    return Quote(
        currency=rates.currency,
        lines=tuple(lines),
        net=_cents(net),
        tax=tax,
        total=_cents(net + tax),
        priced=rates.hour > 0,
    )


def _cents(amount: Decimal) -> Decimal:
    return amount.quantize(CENT, rounding=ROUND_HALF_UP)


def _protection(key: str, tables: TradeTables) -> Protection:
    for kind in tables.protection:
        if kind.key == key:
            return kind
    known = ", ".join(kind.key for kind in tables.protection)
    raise JobError(f"{key!r} is not a protection in the tables; use one of: {known}.")


def _work(
    panels: Sequence[PanelRecord],
    grade: Grade,
    corrections: Mapping[str, BudgetPlan],
    protection: Protection,
    times: Times,
) -> list[WorkLine]:
    area = sum(panel.area_m2 for panel in panels)
    looks = times.inspect_minutes_per_panel * len(panels)
    steps = [(panel, step) for panel in panels for step in corrections[panel.name].steps]
    corrected = list(dict.fromkeys(panel.name for panel, _ in steps))
    work = [
        WorkLine(what="wash", panel=None, minutes=times.wash_minutes),
        WorkLine(what=f"decontaminate ({grade.name})", panel=None, minutes=area * grade.minutes_per_m2),
        WorkLine(what="inspect and photograph before", panel=None, minutes=looks),
    ]
    work += [WorkLine(what="test spot", panel=name, minutes=times.test_spot_minutes) for name in corrected]
    for panel, step in steps:
        minutes = correction_minutes(panel.area_m2, step.rung, step.passes, times=times)
        work.append(WorkLine(what=f"correct: {step.rung.name}", panel=panel.name, minutes=minutes))
    work += [
        WorkLine(what="solvent wipe", panel=name, minutes=times.wipe_minutes_per_panel) for name in corrected
    ]
    work.append(WorkLine(what="inspect and photograph after", panel=None, minutes=looks))
    work.append(
        WorkLine(what=f"protect: {protection.name}", panel=None, minutes=area * protection.minutes_per_m2)
    )
    return work
