"""All panels together: counting, the two intervals, and the panel in the middle."""

from __future__ import annotations

import math

import pytest

from defectmap.report.overall import headline, middle_panel, tally_of
from tests.report import made


def test_every_panel_is_counted_once():
    panels = [
        made.section("a", made.less(-80)),
        made.section("b", made.less(-3, half=9)),
        made.section("c", made.less(30)),
        made.section("d", made.not_comparable()),
    ]
    tally = tally_of(panels)
    assert (tally.measured, tally.less, tally.more, tally.undecided, tally.not_comparable) == (4, 1, 1, 1, 1)
    assert headline(tally) == (
        "Fewer marks show on 1 of 4 panels than before; on 1 panel more marks show; on 1 panel no change "
        "can be proven; 1 panel cannot be compared."
    )


@pytest.mark.parametrize(
    ("record", "words"),
    [
        (made.less(-80), "Fewer marks show than before."),
        (made.less(-3, half=9), "No change can be proven."),
        (made.less(30), "More marks show than before."),
        (made.not_comparable(), "Before and after cannot be compared."),
    ],
)
def test_headline_of_one(record, words):
    assert made.report(made.section("a", record)).headline == words


def test_mean_over_panels_counts_each_the_same():
    report = made.report(
        made.section("a", made.less(-80, before=30)), made.section("b", made.less(-20, before=1))
    )
    (marks, *_) = report.together
    assert marks.change_percent == pytest.approx(-50.0)
    # half the width of each, 5, over the square root of two
    assert marks.ci95_percent == (
        pytest.approx(-50 - 5 / math.sqrt(2)),
        pytest.approx(-50 + 5 / math.sqrt(2)),
    )
    assert (marks.before, marks.after) == (None, None)


def test_a_panel_without_an_interval_leaves_no_mean():
    without = made.record(made.change(0.0, 2.0))
    report = made.report(made.section("a", made.less(-80)), made.section("b", without))
    assert report.together == ()


def test_panels_that_differ_foretell_no_other_panel():
    report = made.five_panels()
    assert report.together[0].outcome == "less"
    # as a sample of five that run from 24 to 92 % the interval is several times as wide
    narrow, wide = (row.ci95_percent for row in (report.together[0], report.sample))
    assert wide[1] - wide[0] > 3 * (narrow[1] - narrow[0])


def test_least_improved_panel_is_named_in_the_summary():
    assert any(
        "The least improved is right rear quarter: 24 % less." in s for s in made.five_panels().summary
    )


def test_typical_picture_is_that_of_the_panel_in_the_middle():
    report = made.five_panels()
    assert report.typical is not None
    assert report.typical.panel == "boot lid"  # 24, 83, 85, 88, 92
    two = [made.section("good", made.less(-90)), made.section("poor", made.less(-10, half=2))]
    middle = middle_panel(two)
    assert middle is not None
    assert middle.name == "poor"


def test_marks_that_may_be_hidden_are_said_to_be():
    hidden = made.report(made.section("a", made.less(-80, word="less visible")))
    assert any("may be hidden and not gone" in sentence for sentence in hidden.summary)
    assert not any("did not hide marks" in sentence for sentence in hidden.summary)
