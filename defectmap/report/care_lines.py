"""The days on which something about the care of a car is due, for papers and the customer's folder."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from defectmap.record.care_dates import care_of
from defectmap.words.trade_words import CARE
from defectmap.words.writer import Writer

if TYPE_CHECKING:
    from defectmap.record.store import Store


@dataclass(frozen=True, slots=True, kw_only=True)
class CareLine:
    """One day, and what is due."""

    day: str
    words: str


def care_lines(store: Store, reference: str, *, writer: Writer) -> tuple[CareLine, ...]:
    """The days of a job that are planned and that nobody has ticked."""
    return tuple(
        CareLine(
            day=writer.day(one.day),
            words=": ".join(filter(None, (writer.term(one.words), writer.tell(CARE[one.kind])))),
        )
        for one in care_of(store, reference=reference)
        if one.done_at is None
    )
