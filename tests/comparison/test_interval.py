"""Intervals of a ratio against published examples and SciPy."""

import math

import numpy as np
import pytest
from scipy import stats

from defectmap.comparison import interval as intervals

# Bonett & Price 2020, example data of `ci.ratio.mean.ps` in the R package statpsych
# (dgbonett.github.io/statpsych).
PAIRED_Y1 = [3.3, 3.6, 3.0, 3.1, 3.9, 4.2, 3.5, 3.3]
PAIRED_Y2 = [3.0, 3.1, 2.7, 2.6, 3.2, 3.8, 3.2, 3.0]
# Efron & Tibshirani 1993, An Introduction to the Bootstrap, the patch data (numbers from memory; the
# arithmetic closes).
PATCH_Z = [8406, 2342, 8187, 8459, 4795, 3516, 4796, 10238]
PATCH_Y = [-1200, 2601, -2705, 1982, -1290, 351, -638, -2719]


def test_fieller_from_standard_errors() -> None:
    # DCPROGS/DCSTATS notebook on GitHub, "Fieller": a 14, b 7, SE 3 and 2, t(0.95, 10) = 1.812461
    found = intervals.fieller(14, 7, se_numerator=3, se_denominator=2, df=10, level=0.90)
    assert (found.low, found.high) == pytest.approx((1.051413, 4.414296), abs=5e-7)  # printed to 6 decimals


@pytest.mark.parametrize(
    ("level", "low", "high"), [(0.90, 1.54, 2.64), (0.95, 1.46, 2.83), (0.99, 1.27, 3.36)]
)
def test_fieller_of_two_groups(level: float, low: float, high: float) -> None:
    # same notebook, quoting an on-line calculator: means 14 and 7, SD 3 and 2, n 6 each
    found = intervals.fieller(
        14, 7, se_numerator=3 / math.sqrt(6), se_denominator=2 / math.sqrt(6), df=10, level=level
    )
    assert (found.low, found.high) == pytest.approx((low, high), abs=0.005)  # printed to 2 decimals


def test_log_ratio_of_paired_means() -> None:
    # printed by statpsych: 1.134146, 1.09417, 1.175583
    found = intervals.log_ratio_paired(PAIRED_Y1, PAIRED_Y2)
    assert (found.ratio, found.low, found.high) == pytest.approx((1.134146, 1.09417, 1.175583), abs=1e-6)


def test_fieller_on_the_same_paired_data() -> None:
    # computed once from Fieller's formula by hand; close to the log method, as it must be for so small a
    # spread
    found = intervals.fieller_paired(PAIRED_Y1, PAIRED_Y2)
    assert (found.low, found.high) == pytest.approx((1.094225, 1.176050), abs=1e-6)


@pytest.mark.parametrize("end", ["low", "high"])
def test_paired_fieller_is_a_paired_t_test_turned_round(end: str) -> None:
    found = intervals.fieller_paired(PAIRED_Y1, PAIRED_Y2)
    shifted = np.array(PAIRED_Y1) - getattr(found, end) * np.array(PAIRED_Y2)
    assert stats.ttest_1samp(shifted, 0).pvalue == pytest.approx(0.05, abs=1e-9)


def test_patch_data() -> None:
    # the book's Fieller interval at 90 %: (-0.249, 0.170)
    found = intervals.fieller_paired(PATCH_Y, PATCH_Z, level=0.90)
    assert (found.ratio, found.low, found.high) == pytest.approx((-0.0713, -0.249, 0.170), abs=5e-4)


def test_a_denominator_that_may_be_zero_gives_no_bounds() -> None:
    # Fieller 1954: g >= 1
    found = intervals.fieller(1, 1, se_numerator=0.1, se_denominator=0.6, df=10)
    assert not found.bounded
    assert not found.distinguishable


def test_turning_the_ratio_over_turns_the_log_interval_over() -> None:
    one = intervals.log_ratio_paired(PAIRED_Y1, PAIRED_Y2)
    other = intervals.log_ratio_paired(PAIRED_Y2, PAIRED_Y1)
    assert (1 / other.high, 1 / other.low) == pytest.approx((one.low, one.high))


def test_change_is_the_ratio_less_one() -> None:
    found = intervals.RatioInterval(ratio=0.4, low=0.3, high=0.5, level=0.95, method="sectors")
    assert found.change_percent == pytest.approx(-60)
    assert found.change_interval_percent == pytest.approx((-70, -50))
    assert found.distinguishable


def test_one_spot_is_no_sample() -> None:
    with pytest.raises(ValueError, match="at least two spots"):
        intervals.log_ratio_paired([3.0], [5.0])


def test_sides_must_match() -> None:
    with pytest.raises(ValueError, match="2 before, 3 after"):
        intervals.fieller_paired([1, 2, 3], [1, 2])


def test_clean_before_has_no_ratio() -> None:
    with pytest.raises(ValueError, match="above 0"):
        intervals.log_ratio_paired([1, 2], [0, 0])


def test_effective_degrees_of_freedom_of_welch() -> None:
    # Satterthwaite's number is between the smaller one and the sum of both, and is what SciPy's Welch test
    # uses
    rng = np.random.default_rng(7)
    a, b = rng.normal(0, 1, 6), rng.normal(0, 3, 9)
    found = intervals.effective_df((a.var(ddof=1) / 6, b.var(ddof=1) / 9), (5, 8))
    assert found == pytest.approx(stats.ttest_ind(a, b, equal_var=False).df)


@pytest.mark.parametrize("spots", [4, 8])
def test_paired_interval_holds_the_truth(spots: int) -> None:
    # log-normal spots, ratio 0.4; 2,000 trials give a coverage good to 0.5 points, 92-98 % is what we ask of
    # the tool
    rng = np.random.default_rng(11)
    held = 0
    for _ in range(2000):
        before = rng.lognormal(3, 0.4, spots)
        after = 0.4 * before * rng.lognormal(-0.02, 0.2, spots)  # mean of the factor is 1
        found = intervals.log_ratio_paired(after, before)
        held += found.low <= 0.4 <= found.high
    assert 0.92 < held / 2000 < 0.98


# Student's t, two-sided 95 %: printed tables, also GUM (JCGM 100:2008) table G.2
@pytest.mark.parametrize(("degrees", "factor"), [(1, 12.71), (2, 4.303), (4, 2.776), (9, 2.262), (30, 2.042)])
def test_students_factor(degrees: int, factor: float) -> None:
    assert intervals.student_factor(degrees) == pytest.approx(
        factor, abs=0.005
    )  # the tables print 3 or 2 decimals


def test_mean_interval_of_equal_symmetric_ones_is_a_square_root_law() -> None:
    # standard error of a mean of n independent estimates: 1 / sqrt(n) of each (GUM, JCGM 100:2008, 4.2.3)
    low, high = intervals.mean_interval([-80.0] * 4, [(-90.0, -70.0)] * 4)
    assert (low, high) == pytest.approx((-85.0, -75.0))


@pytest.mark.parametrize("median_unbiased", [False, True])
def test_mean_interval_covers_lopsided_ratios(median_unbiased: bool) -> None:
    """Coverage of Zou and Donner's method on ratios whose logarithms are normal, five panels that differ."""
    rng = np.random.default_rng(11)
    true = np.array([0.17, 0.08, 0.12, 0.76, 0.15])
    spread = np.array([0.3, 0.45, 0.25, 0.08, 0.2])
    hits = overstated = 0
    trials = 2000
    for _ in range(trials):
        found = np.log(true) + spread * rng.standard_normal(5) - (0 if median_unbiased else spread**2 / 2)
        ends = [
            (100 * (math.exp(f - 1.96 * s) - 1), 100 * (math.exp(f + 1.96 * s) - 1))
            for f, s in zip(found, spread, strict=True)
        ]
        low, high = intervals.mean_interval([100 * (math.exp(f) - 1) for f in found], ends)
        truth = 100 * (true.mean() - 1)
        hits += low <= truth <= high
        overstated += truth > high
    # A reduction is overstated beyond the interval in no more than 2.5 %; binomial scatter of that is 0.35 %.
    assert overstated / trials <= 0.035
    if not median_unbiased:
        # Ratios right on average, as ratios of summed lengths are: 0.95, three binomial scatters of 0.005.
        assert hits / trials == pytest.approx(0.95, abs=0.015)
