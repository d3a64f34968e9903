"""After the work: how long protection keeps dry and unwashed, when to look at it, when to renew it."""

from __future__ import annotations

import calendar
from dataclasses import dataclass
from datetime import date
from typing import Literal

from defectmap.errors import JobError
from defectmap.trade.table_forms import Protection
from defectmap.trade.tables import TradeTables
from defectmap.trade.tuning import FOLLOW_UP_MONTHS
from defectmap.words.remark import Remark, Value

CareKind = Literal["wash again", "look", "follow-up", "renew from", "renew by", "other"]
CARE_KINDS: tuple[CareKind, ...] = ("wash again", "look", "follow-up", "renew from", "renew by", "other")


@dataclass(frozen=True, slots=True, kw_only=True)
class Upkeep:
    """How long the protection lasts, and when to look at it; the range is wide because life is."""

    protection: Protection
    checks: tuple[date, ...]
    renew_from: date
    renew_until: date


@dataclass(frozen=True, slots=True, kw_only=True)
class CareDay:
    """One day on which something about the care of a car is due."""

    day: date
    kind: CareKind


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


def care_days(protection: Protection, done_on: date) -> tuple[CareDay, ...]:
    """Every day to know of, in order: first wash, looks, follow-up, and from when to when to renew."""
    plan = upkeep(protection, done_on)
    dry_days = -(-(protection.keep_dry_hours / 24) // 1)
    first_wash = date.fromordinal(done_on.toordinal() + int(max(protection.no_wash_days, dry_days)))
    days = [
        CareDay(day=first_wash, kind="wash again"),
        *(CareDay(day=day, kind="look") for day in plan.checks),
        CareDay(day=add_months(done_on, FOLLOW_UP_MONTHS), kind="follow-up"),
        CareDay(day=plan.renew_from, kind="renew from"),
        CareDay(day=plan.renew_until, kind="renew by"),
    ]
    return tuple(sorted(days, key=lambda one: one.day))


def three_times(kind: Protection) -> Remark:
    """When it is levelled, how long it stays dry and unwashed; for the shop, which puts it on."""
    levelled: dict[str, Value] = {"low": kind.level_minutes.low, "high": kind.level_minutes.high}
    return Remark(code="three times", values={**_kept_off(kind), **levelled})


def two_times(kind: Protection) -> Remark:
    """How long it stays dry and unwashed; for the customer."""
    return Remark(code="two times", values=_kept_off(kind))


def _kept_off(kind: Protection) -> dict[str, Value]:
    return {"kind": kind.name, "hours": kind.keep_dry_hours, "days": kind.no_wash_days, "source": kind.source}


def protection_of(key: str, tables: TradeTables) -> Protection:
    """The protection of that key in the tables.

    Raises
    ------
    JobError
        They have none.
    """
    for kind in tables.protection:
        if kind.key == key:
            return kind
    known = ", ".join(kind.key for kind in tables.protection)
    raise JobError(f"{key!r} is not a protection in the tables; use one of: {known}.")
