"""What a paper of a job says: filled by `car_papers`, drawn by `car_sheets`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from defectmap.report.care_lines import CareLine
from defectmap.trade.quoting import Quote, WorkLine

PaperKind = Literal["intake", "quote", "invoice", "hand-over"]
PAPER_KINDS: tuple[str, ...] = get_args(PaperKind)


@dataclass(frozen=True, slots=True, kw_only=True)
class DamageLine:
    """One damage: its number on the plan, and why it stays."""

    number: int
    panel: str
    what: str
    stays: str
    at: tuple[float, float] | None
    jpeg: bytes | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CarPaper:
    """All that one paper says, in words; parts that a kind of paper has not are empty."""

    kind: PaperKind
    title: str
    day: str
    number: str
    shop: str | None
    mark: bytes | None
    car: tuple[str, ...]
    keeper: tuple[str, ...]  # personal: only on papers that are handed to the customer
    plan: str  # kind of vehicle, for its drawing
    damage: tuple[DamageLine, ...] = ()
    panels: tuple[tuple[str, ...], ...] = ()  # panel, what it is, thinnest reading
    agreed: str = ""
    work: tuple[tuple[str, ...], ...] = ()
    left: tuple[tuple[str, str], ...] = ()  # panel, what is left and why
    quote: Quote | None = None
    care: tuple[CareLine, ...] = ()
    sentences: tuple[str, ...] = ()
    consent: str = ""
    signature: bytes | None = None  # drawn on the phone, PNG
    signed: str = ""  # who signed, and when
    untimed: tuple[WorkLine, ...] = ()  # work without minutes, which an invoice does not charge
