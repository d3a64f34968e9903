"""Several spots: the panel is the sample."""

import math

import numpy as np
import pytest

from defectmap.comparison.interval import log_ratio_paired
from defectmap.comparison.outcome import Change, Figure
from defectmap.comparison.sampling import CaptureScatter
from defectmap.comparison.spots import panel_change, scope_of, single_change
from defectmap.words.remark import Remark

# Bonett & Price 2020, example of `ci.ratio.mean.ps` in the R package statpsych: 1.134146, 1.09417 to 1.175583
Y1 = [3.3, 3.6, 3.0, 3.1, 3.9, 4.2, 3.5, 3.3]
Y2 = [3.0, 3.1, 2.7, 2.6, 3.2, 3.8, 3.2, 3.0]
KNOWN = CaptureScatter(relative=0.05, df=math.inf)


def row(before: list[float], after: list[float], figure: Figure = "density all") -> list[Change]:
    return [Change(figure=figure, before=b, after=a) for b, a in zip(before, after, strict=True)]


def test_panel_interval_is_the_published_one() -> None:
    found = panel_change(row(Y2, Y1))
    assert found.change_percent == pytest.approx(13.4146, abs=1e-4)
    assert found.ci95_percent == pytest.approx((9.417, 17.5583), abs=1e-4)
    assert found.method == "paired"
    assert found.remark == Remark(code="more marks")


def test_before_not_clear_of_zero_has_no_bounds() -> None:
    found = panel_change(row([0.1, 9.0, 0.1], [1.0, 1.2, 0.9]))
    assert found.ci95_percent is None
    assert found.distinguishable is False
    assert found.remark == Remark(code="no bounds")


def test_a_score_that_is_not_there_has_no_change() -> None:
    found = single_change("score", math.nan, 50.0, capture=KNOWN, limit=1.0)
    assert found.remark == Remark(code="no score")
    assert found.change_percent is None
    assert found.distinguishable is None


def test_clean_panel_before_and_after() -> None:
    assert panel_change(row([0, 0, 0], [1, 2, 3])).change_percent is None
    spots = [
        Change(figure="density all", before=9, after=0, at_least_percent=at_least)
        for at_least in (97.0, 92.0, 95.0)
    ]
    found = panel_change(spots)
    assert found.at_least_percent == 92.0
    assert found.ci95_percent == (-100.0, -92.0)


@pytest.mark.parametrize(("spots", "scope"), [(1, "this spot"), (2, "these spots"), (3, "the panel")])
def test_scope(spots: int, scope: str) -> None:
    assert scope_of(spots) == scope


def test_single_figure_has_the_scatter_of_two_photographs() -> None:
    found = single_change("haze", 0.2, 0.1, capture=KNOWN, limit=1.0)
    half = 1.959964 * math.sqrt(2) * 0.05
    assert found.ci95_percent == pytest.approx(
        (100 * (0.5 * math.exp(-half) - 1), 100 * (0.5 * math.exp(half) - 1))
    )


def test_no_scratch_left() -> None:
    found = single_change("longest scratch", 40.0, 0.0, capture=KNOWN, limit=2.0)
    assert found.at_least_percent == pytest.approx(95.0)  # shorter than 2 mm of 40
    assert found.distinguishable


def test_no_scratch_before() -> None:
    found = single_change("longest scratch", 0.0, 12.0, capture=KNOWN, limit=2.0)
    assert found.change_percent is None
    assert found.remark == Remark(code="marks from nothing")


def test_spots_that_agree_prove_more() -> None:
    rng = np.random.default_rng(1)
    before = rng.lognormal(2.5, 0.3, 6)
    tight = log_ratio_paired(0.5 * before, before)
    loose = log_ratio_paired(0.5 * before * rng.lognormal(0, 0.3, 6), before)
    assert tight.high - tight.low < 1e-6 < loose.high - loose.low
