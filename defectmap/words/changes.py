"""The one place where a change is put into words: on every page, on paper and at the command line.

Nothing here overstates a reduction by rounding, and where the interval includes no change, none is named.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal, Protocol

from defectmap.words.writer import ENGLISH, Writer

Outcome = Literal[
    "less",
    "more",
    "no provable change",
    "nothing left",
    "nothing before",
    "not given",
    "no interval",
    "not comparable",
]
LEAST_PERCENT = 0.5  # what would be written as 0 %


class ChangeLike(Protocol):
    """A figure before and after, as a comparison or a row of a report has it."""

    @property
    def before(self) -> float | None:
        """Figure before."""

    @property
    def after(self) -> float | None:
        """Figure after."""

    @property
    def change_percent(self) -> float | None:
        """Below 0 is less than before."""

    @property
    def ci95_percent(self) -> Sequence[float | None] | None:
        """Its 95 % interval; an end of None is not limited."""

    @property
    def distinguishable(self) -> bool | None:
        """Whether the interval excludes no change."""

    @property
    def at_least_percent(self) -> float | None:
        """Reduction that a clean photograph after proves."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptChange:
    """A change as a result file holds it."""

    before: float | None = None
    after: float | None = None
    change_percent: float | None = None
    ci95_percent: Sequence[float | None] | None = None
    distinguishable: bool | None = None
    at_least_percent: float | None = None


def kept_change(record: Mapping[str, Any]) -> KeptChange:
    """The change in one figure of `compare --json`."""
    return KeptChange(**{name: record.get(name) for name in KeptChange.__dataclass_fields__})


def outcome_of(change: ChangeLike) -> Outcome:
    """What the numbers of one change amount to.

    Examples
    --------
    >>> outcome_of(KeptChange(change_percent=-71.0, ci95_percent=(-77, -64), distinguishable=True))
    'less'
    >>> outcome_of(KeptChange(before=42.0, after=61.0))  # of films: how far it repeats is not known
    'not given'
    >>> outcome_of(KeptChange(change_percent=-3.0, ci95_percent=(-9, 4), distinguishable=False))
    'no provable change'
    """
    if change.at_least_percent is not None:  # nothing shows after
        return "nothing left" if change.at_least_percent >= 1 else "no provable change"
    if change.change_percent is None:
        return "nothing before" if change.before == 0 else "not given"
    if change.distinguishable is None:
        return "no interval"
    if not change.distinguishable:
        return "no provable change"
    return "less" if change.change_percent < 0 else "more"


def change_words(change: ChangeLike, *, writer: Writer = ENGLISH) -> str:
    """A change, without its interval.

    Examples
    --------
    >>> change_words(KeptChange(change_percent=-71.4, ci95_percent=(-77, -64), distinguishable=True))
    'reduced by 71 %'
    >>> change_words(KeptChange(change_percent=12.0, ci95_percent=(3, 22), distinguishable=True))
    'increased by 12 %'
    >>> change_words(KeptChange(change_percent=-3.0, ci95_percent=(-9, 4), distinguishable=False))
    'no measurable change'
    >>> change_words(KeptChange(change_percent=-85.0, distinguishable=False))  # spots too unlike for bounds
    'change not proven'
    >>> change_words(KeptChange(after=0.0, change_percent=-100.0, at_least_percent=96.8))
    'reduced by at least 96 %'
    """
    outcome = outcome_of(change)
    if outcome == "nothing left":
        least = writer.number(math.floor(change.at_least_percent or 0.0), 0)
        return writer.tell("reduced by at least {percent} %", percent=least)
    if outcome == "no provable change":
        boundless = change.ci95_percent is None and change.at_least_percent is None
        return writer.tell("change not proven") if boundless else writer.tell("no measurable change")
    if outcome == "nothing before":
        return writer.tell("none seen before") if change.after else writer.tell("none seen, either time")
    if outcome == "not given":
        return writer.tell("no change given")
    words = percent_words(change.change_percent or 0.0, writer=writer)
    return writer.tell("{change} (no interval)", change=words) if outcome == "no interval" else words


def percent_words(change_percent: float, *, writer: Writer = ENGLISH) -> str:
    """A change by its percentage alone, for changes that are known to be told from none.

    Examples
    --------
    >>> percent_words(-99.97), percent_words(0.2)
    ('reduced by over 99.9 %', 'unchanged')
    """
    if abs(change_percent) < LEAST_PERCENT:
        return writer.tell("unchanged")
    size = percent(abs(change_percent), writer=writer)
    if change_percent < 0:
        return writer.tell("reduced by {percent}", percent=size)
    return writer.tell("increased by {percent}", percent=size)


def interval_words(interval: Sequence[float | None] | None, *, writer: Writer = ENGLISH) -> str:
    """A 95 % interval of a change; empty where there is none, signed where it includes no change.

    Examples
    --------
    >>> interval_words((-77.0, -64.0)), interval_words((3.0, 22.0)), interval_words((-10.0, 8.0))
    ('64 to 77 %', '3 to 22 %', '−10 to +8 %')
    >>> interval_words((-100.0, 0.0))
    '−100 to 0 %'
    >>> interval_words((-40.0, None)), interval_words((None, None)), interval_words(None)
    ('−40 % or more', 'not limited', '')
    """
    if interval is None:
        return ""
    low, high = interval
    if low is None and high is None:
        return writer.tell("not limited")
    if low is None or high is None:
        if low is None:
            return writer.tell("{end} % or less", end=signed(high or 0.0))
        return writer.tell("{end} % or more", end=signed(low))
    if high < 0 or low > 0:
        near, far = sorted((abs(low), abs(high)))
        return writer.tell("{low} to {high} %", low=_whole(near, writer), high=_whole(far, writer))
    return writer.tell("{low} to {high} %", low=signed(low), high=signed(high))


def full_change(change: ChangeLike) -> str:
    """A change with its interval, as pages and terminal say it.

    Examples
    --------
    >>> full_change(KeptChange(change_percent=-71.4, ci95_percent=(-77, -64), distinguishable=True))
    'reduced by 71 % (95 % interval 64 to 77 %)'
    >>> full_change(KeptChange(change_percent=-3.0, ci95_percent=(-10, 8), distinguishable=False))
    'no measurable change (95 % interval −10 to +8 %)'
    """
    words = change_words(change)
    interval = interval_words(None if outcome_of(change) == "nothing left" else change.ci95_percent)
    return f"{words} (95 % interval {interval})" if interval else words


def percent(magnitude: float, *, writer: Writer = ENGLISH) -> str:
    """A percentage, whole except near a hundred, where rounding up would claim everything.

    Examples
    --------
    >>> percent(71.4), percent(99.6), percent(99.96), percent(100.0)
    ('71 %', '99.6 %', 'over 99.9 %', '100 %')
    """
    if 99.9 < magnitude < 100:
        return writer.tell("over {percent} %", percent=writer.number(99.9, 1))
    return f"{_whole(magnitude, writer)} %"


def signed(value: float) -> str:
    """A whole number with its sign, the minus as printers write it.

    Examples
    --------
    >>> signed(-20.4), signed(18), signed(0.0)
    ('−20', '+18', '0')
    """
    return f"{'−' if value < 0 else '+' if value > 0 else ''}{abs(value):.0f}"


def _whole(magnitude: float, writer: Writer) -> str:
    if 99 <= magnitude < 100:
        return writer.number(math.floor(10 * magnitude) / 10, 1)
    return writer.number(magnitude, 0)


def by_hand_words(found: Mapping[str, Any] | None, change: str, *, writer: Writer = ENGLISH) -> str:
    """What was corrected by hand, and what the change would be without it; empty where nothing was.

    Parameters
    ----------
    found : mapping or None
        `by_hand` of a comparison in the record.
    change : str
        The change with the corrections, in words.

    Examples
    --------
    >>> found = {"removed": 2, "kind_changed": 0, "areas": 0, "change_percent_without": -70.0}
    >>> by_hand_words(found, "reduced by 71 %")
    '2 marks removed by hand: reduced by 71 % instead of reduced by 70 %.'
    """
    if not found:
        return ""
    parts = []
    if found["removed"]:
        parts.append(
            writer.tell_many(
                "{number} mark removed by hand", "{number} marks removed by hand", found["removed"]
            )
        )
    if found["kind_changed"]:
        parts.append(
            writer.tell_many(
                "kind of {number} mark changed by hand",
                "kind of {number} marks changed by hand",
                found["kind_changed"],
            )
        )
    if found["areas"]:
        parts.append(
            writer.tell_many(
                "{number} area left out by hand", "{number} areas left out by hand", found["areas"]
            )
        )
    done, without = writer.listed(parts), found["change_percent_without"]
    if without is None:
        return writer.tell("{done}; without that no change could be given.", done=done)
    return writer.tell(
        "{done}: {change} instead of {without}.",
        done=done,
        change=change,
        without=percent_words(without, writer=writer),
    )
