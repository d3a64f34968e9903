"""What the work costs at the shop's own rates, line by line; tax as the shop enters it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from defectmap.trade.table_forms import Rates

CENT = Decimal("0.01")


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkLine:
    """One piece of work; `panel` is None for the whole vehicle."""

    what: str  # a code of `words.work_words`
    panel: str | None
    minutes: float
    detail: str = ""  # name of the step, the grade, the protection


@dataclass(frozen=True, slots=True, kw_only=True)
class QuoteLine:
    """One line of a quote or an invoice."""

    what: str
    amount: Decimal
    detail: str = ""
    hours: Decimal | None = None  # where it is worked time
    pieces: int | None = None  # where it is counted


@dataclass(frozen=True, slots=True, kw_only=True)
class Quote:
    """What the job costs at the shop's own rates; `priced` is False while the shop has entered none."""

    currency: str
    lines: tuple[QuoteLine, ...]
    net: Decimal
    tax: Decimal
    total: Decimal
    priced: bool
    tax_percent: Decimal = Decimal(0)


def quote(work: Sequence[WorkLine], corrected_panels: int, rates: Rates) -> Quote:
    """Price the work by kind, each line rounded half up to the cent; tax is on their sum."""
    by_kind: dict[tuple[str, str], float] = {}
    for line in work:
        kind = (line.what, line.detail)
        by_kind[kind] = by_kind.get(kind, 0.0) + line.minutes
    lines = [
        QuoteLine(
            what=what,
            detail=detail,
            amount=cents(Decimal(str(minutes)) / 60 * rates.hour),
            hours=cents(Decimal(str(minutes)) / 60),
        )
        for (what, detail), minutes in by_kind.items()
    ]
    if corrected_panels and rates.material_per_panel:
        lines.append(
            QuoteLine(
                what="material",
                pieces=corrected_panels,
                amount=cents(corrected_panels * rates.material_per_panel),
            )
        )
    return totalled(lines, rates)


def totalled(lines: Sequence[QuoteLine], rates: Rates) -> Quote:
    """Lines with their sum and the tax on it, rounded half up to the cent."""
    net = sum((line.amount for line in lines), Decimal(0))
    tax = cents(net * rates.tax_percent / 100)
    return Quote(
        currency=rates.currency,
        lines=tuple(lines),
        net=cents(net),
        tax=tax,
        total=cents(net + tax),
        priced=any(line.amount for line in lines),
        tax_percent=rates.tax_percent,
    )


def cents(amount: Decimal) -> Decimal:
    """Rounded half up to the cent."""
    return amount.quantize(CENT, rounding=ROUND_HALF_UP)
