"""All panels together: counting, the two intervals, and the panel in the middle."""

from __future__ import annotations

import math

import numpy as np
import pytest

from defectmap.report.overall import headline, mean_interval, middle_panel, tally_of
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


def test_mean_interval_of_equal_symmetric_ones_is_a_square_root_law():
    # standard error of a mean of n independent estimates: 1 / sqrt(n) of each (GUM, JCGM 100:2008, 4.2.3)
    low, high = mean_interval([-80.0] * 4, [(-90.0, -70.0)] * 4)
    assert (low, high) == (pytest.approx(-85.0), pytest.approx(-75.0))


@pytest.mark.parametrize("median_unbiased", [False, True])
def test_mean_interval_covers_lopsided_ratios(median_unbiased):
    """Coverage of Zou and Donner's method on ratios whose logarithms are normal, five panels that differ."""
    rng = np.random.default_rng(11)
    true = np.array([0.17, 0.08, 0.12, 0.76, 0.15])
    spread = np.array([0.3, 0.45, 0.25, 0.08, 0.2])
    hits = overstated = 0
    trials = 2000
    for _ in range(trials):
        found = np.log(true) + spread * rng.standard_normal(5) - (0 if median_unbiased else spread**2 / 2)
        ends = [
            tuple(100 * (math.exp(f + sign * 1.96 * s) - 1) for sign in (-1, 1))
            for f, s in zip(found, spread, strict=True)
        ]
        low, high = mean_interval([100 * (math.exp(f) - 1) for f in found], ends)
        truth = 100 * (true.mean() - 1)
        hits += low <= truth <= high
        overstated += truth > high
    # A reduction is overstated beyond the interval in no more than 2.5 %; binomial scatter of that is 0.35 %.
    assert overstated / trials <= 0.035
    if not median_unbiased:
        # Ratios right on average, as ratios of summed lengths are: 0.95, three binomial scatters of 0.005.
        assert hits / trials == pytest.approx(0.95, abs=0.015)


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
