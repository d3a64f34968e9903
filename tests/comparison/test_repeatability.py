"""Repeatability against published data."""

import math

import numpy as np
import pytest

from defectmap.comparison import repeatability as rep

# GUM (JCGM 100:2008) 4.4.3, table 1: twenty readings of a temperature in °C (numbers from memory; the mean,
# 100.145, and the standard deviation, 1.489, that the GUM prints close on them).
GUM_READINGS = [
    96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07,
    100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
]  # fmt: skip

# The worked gauge study of the AIAG Measurement Systems Analysis manual: three people, three trials, ten
# parts (numbers from memory; the sums of squares that the manual prints close on them).
GAUGE = np.array([
    [[.29, -.56, 1.34, .47, -.80, .02, .59, -.31, 2.26, -1.36],
     [.41, -.68, 1.17, .50, -.92, -.11, .75, -.20, 1.99, -1.25],
     [.64, -.58, 1.27, .64, -.84, -.21, .66, -.17, 2.01, -1.31]],
    [[.08, -.47, 1.19, .01, -.56, -.20, .47, -.63, 1.80, -1.68],
     [.25, -1.22, .94, 1.03, -1.20, .22, .55, .08, 2.12, -1.62],
     [.07, -.68, 1.34, .20, -1.28, .06, .83, -.34, 2.19, -1.50]],
    [[.04, -1.38, .88, .14, -1.46, -.29, .02, -.46, 1.77, -1.49],
     [-.11, -1.13, 1.09, .20, -1.07, -.67, .01, -.56, 1.45, -1.77],
     [-.15, -.96, .67, .11, -1.45, -.49, .21, -.49, 1.87, -2.16]],
])  # fmt: skip


def test_type_a_of_the_gum() -> None:
    found = rep.type_a(GUM_READINGS)
    assert found.mean == pytest.approx(100.145, abs=5e-4)
    assert found.standard_deviation == pytest.approx(1.489, abs=5e-4)
    assert found.standard_uncertainty == pytest.approx(0.333, abs=5e-4)
    assert found.df == 19


def test_error_of_the_gauge_study() -> None:
    # AIAG: error sum of squares 2.7589 with 60 degrees of freedom, the scatter inside the cells
    cells = [GAUGE[person, :, part] for person in range(3) for part in range(10)]
    assert rep.precision(cells).repeatability ** 2 * 60 == pytest.approx(2.7589, abs=5e-5)


def test_error_of_the_five_part_study() -> None:
    # a public GageRnR package's README prints these 45 values and an error sum of squares of 1.712 over 30
    cells = [GAUGE[person, :, part] for person in range(3) for part in range(5)]
    assert rep.precision(cells).repeatability ** 2 * 30 == pytest.approx(1.712, abs=5e-4)


# Davies and Goldsmith 1972, yield of dyestuff from six batches, as in the R package lme4 (`Dyestuff`; numbers
# from memory, they close on the mean of 1527.5 and the components that its manual prints).
DYESTUFF = [
    [1545, 1440, 1440, 1520, 1580], [1540, 1555, 1490, 1560, 1495], [1595, 1550, 1605, 1510, 1560],
    [1445, 1440, 1595, 1465, 1545], [1595, 1630, 1515, 1635, 1625], [1520, 1455, 1450, 1480, 1445],
]  # fmt: skip


def test_components_of_the_dyestuff() -> None:
    # lme4: residual variance 2451.3, variance between batches 1764.1 (restricted likelihood, balanced layout)
    found = rep.precision(DYESTUFF)
    assert found.mean == pytest.approx(1527.5)
    assert found.repeatability**2 == pytest.approx(2451.3, abs=0.06)
    assert found.reproducibility**2 - found.repeatability**2 == pytest.approx(1764.1, abs=0.06)


# ISO 5725-2:1994, B.1, sulfur in coal, levels 1 and 3: eight laboratories, three to five results each (from
# memory, as are the mean, repeatability and reproducibility that the standard prints; the two agree).
COAL = {
    (0.690, 0.015, 0.026): [
        [.71, .71, .70, .71], [.69, .67, .68, .68], [.66, .65, .69], [.67, .65, .66],
        [.70, .69, .66, .71, .69], [.73, .74, .73], [.71, .71, .69], [.70, .65, .68],
    ],
    (1.667, 0.017, 0.035): [
        [1.68, 1.70, 1.68, 1.69], [1.64, 1.64, 1.64, 1.65], [1.61, 1.61, 1.62], [1.68, 1.66, 1.66],
        [1.64, 1.67, 1.60, 1.66, 1.68], [1.70, 1.73, 1.73], [1.69, 1.70, 1.68], [1.67, 1.68, 1.67],
    ],
}  # fmt: skip


@pytest.mark.parametrize("printed", COAL)
def test_coal_of_iso_5725_2(printed: tuple[float, float, float]) -> None:
    found = rep.precision(COAL[printed])
    assert found.phones == 8
    # printed to the third decimal, from rounded cell means
    assert found.mean == pytest.approx(printed[0], abs=1e-3)
    assert found.repeatability == pytest.approx(printed[1], abs=5e-4)
    assert found.reproducibility == pytest.approx(printed[2], abs=5e-4)


def test_one_photograph_a_phone_shows_reproducibility_only() -> None:
    found = rep.precision([[10.0], [11.0], [12.0]])
    assert math.isnan(found.repeatability)
    assert found.reproducibility == pytest.approx(1.0)


def test_two_way_mean_squares_of_the_gauge_study() -> None:
    # AIAG: person 3.1673 with 2 degrees of freedom, interaction 0.3590 with 18; cell means carry a third of
    # each
    ms_person, ms_interaction = rep._mean_squares(GAUGE.mean(axis=1))
    assert 3 * ms_person * 2 == pytest.approx(3.1673, abs=5e-5)
    assert 3 * ms_interaction * 18 == pytest.approx(0.3590, abs=5e-5)


@pytest.mark.parametrize(("s_r", "limit"), [(0.021, 0.059), (0.042, 0.118), (0.047, 0.131)])
def test_repeatability_limit(s_r: float, limit: float) -> None:
    # projects.bre.co.uk, tables of s_r and r; both printed to 3 decimals:
    # half a unit of s_r is worth 0.0014 of r, and r's own half unit 0.0005
    assert rep.repeatability_limit(s_r) == pytest.approx(limit, abs=0.0019)


def test_limit_is_the_critical_difference_of_many_shots() -> None:
    assert rep.critical_difference(0.5, df=1e7) == pytest.approx(rep.repeatability_limit(0.5), rel=1e-6)


@pytest.mark.parametrize(("shots", "factor"), [(3, 4.303), (5, 2.776), (10, 2.262)])
def test_few_shots_widen_the_difference(shots: int, factor: float) -> None:
    # Student's table, 95 % two-sided
    assert rep.critical_difference(1.0, df=shots - 1) == pytest.approx(factor * math.sqrt(2), abs=1e-3)


@pytest.mark.parametrize(("shots", "percent"), [(3, 50), (5, 35), (10, 24), (30, 13)])
def test_how_well_scatter_is_known(shots: int, percent: float) -> None:
    # GUM table E.1 (30: 13 %); the simple formula, rounded to whole percent
    assert 100 * rep.relative_sd_of_sd(shots) == pytest.approx(percent, abs=0.6)


def test_components_find_what_was_put_in() -> None:
    # 2,000 shots, so that the estimates are good to about 3 %
    rng = np.random.default_rng(3)
    shots, sectors = 2000, 12
    table = 10 * rng.uniform(0.5, 1.5, sectors)
    common = rng.normal(1, 0.04, (shots, 1))
    noise = rng.normal(0, 0.1 * table.mean(), (shots, sectors))
    found = rep.shot_components(table * common + noise)
    assert found.common == pytest.approx(0.04, rel=0.1)
    assert found.local == pytest.approx(0.1 / math.sqrt(sectors), rel=0.1)
    assert found.total == pytest.approx(math.hypot(found.common, found.local))


def test_no_marks_in_any_shot() -> None:
    found = rep.shot_components(np.zeros((3, 8)))
    assert (found.total, found.common, found.local) == (0, 0, 0)


def test_smallest_provable_change_is_a_share() -> None:
    assert rep.smallest_provable_change_percent(0.0, df=4) == 0
    assert 0 < rep.smallest_provable_change_percent(0.03, df=4) < 100 * 2.776 * math.sqrt(2) * 0.03


def test_one_shot_shows_no_scatter() -> None:
    with pytest.raises(ValueError, match="at least two observations"):
        rep.type_a([1.0])
    with pytest.raises(ValueError, match="two shots"):
        rep.shot_components(np.ones((1, 5)))
