"""All panels together: counting, the two intervals, and the panel in the middle."""

from __future__ import annotations

import math
from typing import Any

import pytest

from defectmap.report.claims import claim_sheet
from defectmap.report.overall import headline, middle_panel, tally_of
from tests.report import made


def test_every_panel_is_counted_once() -> None:
    panels = [
        made.section("a", made.less(-80)),
        made.section("b", made.less(-3, half=9)),
        made.section("c", made.less(30)),
        made.section("d", made.not_comparable()),
    ]
    tally = tally_of(panels)
    assert (tally.measured, tally.less, tally.more, tally.undecided, tally.not_comparable) == (4, 1, 1, 1, 1)
    assert headline(tally) == (
        "More marks show on 1 panel than before. Fewer marks show on 1 of 4 panels than before. No "
        "measurable change on 1 panel. 1 panel cannot be compared."
    )


@pytest.mark.parametrize(
    ("record", "words"),
    [
        (made.less(-80), "Fewer marks show than before."),
        (made.less(-3, half=9), "No measurable change."),
        (made.less(30), "More marks show than before."),
        (made.not_comparable(), "Before and after cannot be compared."),
    ],
)
def test_headline_of_one(record: dict[str, Any], words: str) -> None:
    assert made.report(made.section("a", record)).headline == words


def test_densities_are_averaged_and_not_percentages() -> None:
    report = made.report(
        made.section("a", made.less(-80, before=30)), made.section("b", made.less(-20, before=1))
    )
    (marks, *_) = report.together
    # by hand: 30 and 1 before, 6 and 0.8 after
    assert (marks.before, marks.after) == pytest.approx((15.5, 3.4))
    assert marks.change_percent is not None
    assert marks.change_percent == pytest.approx(100 * (3.4 / 15.5 - 1))
    # distances of 5 points each, weighted by density before, add as squares
    half = 5 * math.hypot(30, 1) / 31
    middle = marks.change_percent
    assert marks.ci95_percent == pytest.approx((middle - half, middle + half))


def test_panels_that_went_apart_have_no_mean_and_are_told_one_by_one() -> None:
    """−71 and +115 % have no mean that means anything."""
    report = made.report(
        made.section("roof", made.less(-71)), made.section("bonnet", made.less(115, before=2.0))
    )
    assert report.together == ()
    assert report.headline.startswith("More marks show on 1 panel than before.")
    told = "The panels went apart, so there is no mean: bonnet: increased by 115 %; roof: reduced by 71 %."
    assert told in report.summary
    (statement, *_) = claim_sheet(report).statements
    assert not statement.supported
    assert "no one figure speaks for both" in statement.why[0]


def test_a_panel_without_an_interval_leaves_no_mean() -> None:
    without = made.record(made.change(0.0, 2.0))
    report = made.report(made.section("a", made.less(-80)), made.section("b", without))
    assert report.together == ()


def test_panels_that_differ_foretell_no_other_panel() -> None:
    report = made.five_panels()
    assert report.together[0].outcome == "less"
    # as a sample of five that run from 24 to 92 % the interval is several times as wide
    assert report.sample is not None
    narrow, wide = (row.ci95_percent for row in (report.together[0], report.sample))
    assert narrow is not None
    assert wide is not None
    assert wide[1] - wide[0] > 3 * (narrow[1] - narrow[0])


def test_least_improved_panel_is_named_in_the_summary() -> None:
    assert any(
        "Least improved: right rear quarter, reduced by 24 %." in s for s in made.five_panels().summary
    )


def test_typical_picture_is_that_of_the_panel_in_the_middle() -> None:
    report = made.five_panels()
    assert report.typical is not None
    assert report.typical.panel == "boot lid"  # 24, 83, 85, 88, 92
    two = [made.section("good", made.less(-90)), made.section("poor", made.less(-10, half=2))]
    middle = middle_panel(two)
    assert middle is not None
    assert middle.name == "poor"


def test_marks_that_may_be_hidden_are_said_to_be() -> None:
    hidden = made.report(made.section("a", made.less(-80, word="less visible")))
    assert any("may be hidden and not gone" in sentence for sentence in hidden.summary)
    assert not any("did not hide marks" in sentence for sentence in hidden.summary)
