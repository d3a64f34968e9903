"""A change in words: one grammar everywhere, never more than was measured."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from defectmap.comparison.outcome import Change
from defectmap.words.changes import (
    KeptChange,
    change_words,
    full_change,
    interval_words,
    kept_change,
    outcome_of,
    percent,
    percent_words,
)
from defectmap.words.style import Style
from defectmap.words.writer import Writer


def change(percent_: float | None, low: float | None, high: float | None, **more: Any) -> KeptChange:
    told = None if low is None or high is None else not low <= 0 <= high
    facts: dict[str, Any] = {
        "after": 1.0,
        "change_percent": percent_,
        "ci95_percent": (low, high),
        "distinguishable": told,
    }
    return KeptChange(**{**facts, **more})


def test_an_interval_over_zero_is_no_change() -> None:
    assert full_change(change(-5, -20, 12)) == "no measurable change (95 % interval −20 to +12 %)"


def test_worse_is_said_as_plainly_as_better() -> None:
    assert change_words(change(115, 80, 160)) == "increased by 115 %"
    assert change_words(change(-40, -55, -20)) == "reduced by 40 %"


def test_a_clean_photograph_after_is_no_hundred_percent() -> None:
    clean = change(-100, -100, -96.8, after=0.0, at_least_percent=96.8)
    assert outcome_of(clean) == "nothing left"
    assert full_change(clean) == "reduced by at least 96 %"


def test_a_clean_photograph_that_proves_nothing_claims_nothing() -> None:
    assert change_words(change(-100, None, None, after=0.0, at_least_percent=0.0)) == "no measurable change"


def test_nothing_before_has_no_percentage() -> None:
    assert change_words(KeptChange(before=0.0, after=2.0)) == "none seen before"
    assert change_words(KeptChange(before=0.0, after=0.0)) == "none seen, either time"
    assert change_words(KeptChange()) == "no change given"  # a score that neither photograph has


def test_without_an_interval_it_says_so() -> None:
    assert full_change(KeptChange(after=1.0, change_percent=-30.0)) == "reduced by 30 % (no interval)"


def test_an_object_and_its_record_are_worded_alike() -> None:
    found = Change(
        figure="haze",
        before=0.2,
        after=0.1,
        change_percent=-50,
        ci95_percent=(-60, -38),
        distinguishable=True,
    )
    record = {"after": 0.1, "change_percent": -50, "ci95_percent": [-60, -38], "distinguishable": True}
    assert (
        full_change(found) == full_change(kept_change(record)) == "reduced by 50 % (95 % interval 38 to 60 %)"
    )


@given(st.floats(0, 100, exclude_max=True))
def test_rounding_never_claims_everything(magnitude: float) -> None:
    assert percent(magnitude) != "100 %"
    assert percent_words(-magnitude) != "reduced by 100 %"


@given(st.floats(-99, 200), st.floats(-99, 200))
def test_both_ends_of_an_interval_are_there(one: float, other: float) -> None:
    low, high = sorted((one, other))
    words = interval_words((low, high))
    if low < 0 < high:
        assert f"−{abs(low):.0f}" in words
        assert f"+{high:.0f}" in words


@pytest.mark.parametrize(("ends", "words"), [((-40, None), "−40 % or more"), ((None, 30), "+30 % or less")])
def test_an_end_that_is_not_known_is_not_made_up(ends: tuple[int | None, int | None], words: str) -> None:
    assert interval_words(ends) == words


def test_german_writes_its_decimal_mark() -> None:
    assert percent(99.6, writer=Writer(Style(language="de"))) == "99,6 %"
