"""Every interval of the package: of a ratio, of a mean of several estimates, and Student's factor.

Arithmetic only: what scatters, the caller says. Pairs of numbers are spots or panels; what one photograph
says of itself, by drawing its marks again, is in `sampling`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from defectmap.comparison.tuning import LEVEL

Method = Literal["sectors", "Fieller", "paired", "capture", "none seen", "none anywhere", "films", "spots"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RatioInterval:
    """A ratio and where it lies; `low` and `high` are infinite where the data set no bound on that side."""

    ratio: float
    low: float
    high: float
    level: float
    method: Method
    df: float | None = None  # degrees of freedom of the Student factor, where one was used

    @property
    def bounded(self) -> bool:
        """Whether both ends are finite."""
        return math.isfinite(self.low) and math.isfinite(self.high)

    @property
    def change_percent(self) -> float:
        """Change against the denominator: -60 for a ratio of 0.4."""
        return 100 * (self.ratio - 1)

    @property
    def change_interval_percent(self) -> tuple[float, float]:
        """Interval of the change in percent, lower end first."""
        return 100 * (self.low - 1), 100 * (self.high - 1)

    @property
    def distinguishable(self) -> bool:
        """Whether "no change" lies outside the interval."""
        return not self.low <= 1 <= self.high


def student_factor(df: float, *, level: float = LEVEL) -> float:
    """Two-sided factor of Student's distribution; the normal distribution's for infinitely many degrees.

    Raises ValueError where `df` is not above 0 or `level` not between 0 and 1.

    Examples
    --------
    >>> round(student_factor(4), 3), round(student_factor(math.inf), 3)
    (2.776, 1.96)
    """
    if not 0 < level < 1:
        raise ValueError(f"level must be between 0 and 1, got {level!r}")
    if not df > 0:
        raise ValueError(f"degrees of freedom must be above 0, got {df!r}")
    tail = (1 + level) / 2
    if math.isinf(df):
        return NormalDist().inv_cdf(tail)
    from scipy.special import stdtrit  # scipy.stats has it too, and takes a third of a second to import

    return float(stdtrit(df, tail))


def mean_interval(
    values: Sequence[float],
    intervals: Sequence[tuple[float, float]],
    *,
    weights: Sequence[float] | None = None,
) -> tuple[float, float]:
    """95 % interval of the mean of independent estimates, from the 95 % interval of each.

    Method of variance estimates recovery (Zou and Donner 2008, Statistics in Medicine 27:1693): the weighted
    distances to the lower ends add as squares, and so do those to the upper ends, so lopsided intervals stay
    lopsided.

    Parameters
    ----------
    values : sequence of float
        Estimates.
    intervals : sequence of (float, float)
        Lower and upper end of each; they hold their value.
    weights : sequence of float, optional
        Above or at 0, in any unit; all the same if not given.

    Returns
    -------
    (float, float)

    Examples
    --------
    >>> mean_interval([10.0, 20.0], [(7.0, 14.0), (16.0, 23.0)])
    (12.5, 17.5)
    >>> mean_interval([10.0, 20.0], [(7.0, 14.0), (16.0, 23.0)], weights=[1, 0])
    (7.0, 14.0)
    """
    given = [1.0] * len(values) if weights is None else list(weights)
    total = math.fsum(given)
    parts = [weight / total for weight in given]
    mean = math.fsum(part * value for part, value in zip(parts, values, strict=True))
    together = list(zip(parts, values, intervals, strict=True))
    below = math.hypot(*(part * (value - low) for part, value, (low, _) in together))
    above = math.hypot(*(part * (high - value) for part, value, (_, high) in together))
    return mean - below, mean + above


def mean_half_width(values: Sequence[float]) -> float:
    """Half the interval of the mean of two values or more (Student's; GUM, JCGM 100:2008, 4.2.3 and G.3)."""
    sample = _sample(values)
    return student_factor(len(sample) - 1) * float(sample.std(ddof=1)) / math.sqrt(len(sample))


def fieller(
    numerator: float,
    denominator: float,
    *,
    se_numerator: float,
    se_denominator: float,
    df: float,
    covariance: float = 0.0,
    level: float = LEVEL,
) -> RatioInterval:
    """Interval of a ratio of two normal estimates (Fieller 1954).

    Parameters
    ----------
    numerator, denominator : float
        The two estimates, in one unit.
    se_numerator, se_denominator : float
        Their standard errors, at least 0.
    df : float
        Degrees of freedom of the standard errors.
    covariance : float, optional
        Covariance of the two estimates (not of single observations).
    level : float, optional
        Confidence, between 0 and 1.

    Returns
    -------
    RatioInterval
        Unbounded on both sides where the denominator cannot be told from zero (g = t² se²/b² of 1 or more).

    Raises
    ------
    ValueError
        The denominator is zero, or a standard error is negative.

    Examples
    --------
    >>> found = fieller(14, 7, se_numerator=3, se_denominator=2, df=10, level=0.90)
    >>> round(found.low, 4), round(found.high, 4)
    (1.0514, 4.4143)
    """
    if denominator == 0:
        raise ValueError("denominator is 0, so there is no ratio")
    if se_numerator < 0 or se_denominator < 0:
        raise ValueError(f"standard errors must be at least 0, got {se_numerator!r} and {se_denominator!r}")
    t = student_factor(df, level=level)
    ratio = numerator / denominator
    g = (t * se_denominator / denominator) ** 2
    if g >= 1:
        return RatioInterval(ratio=ratio, low=-math.inf, high=math.inf, level=level, method="Fieller", df=df)
    centre = ratio - g * covariance / se_denominator**2 if se_denominator else ratio
    spread = (
        se_numerator**2
        - 2 * ratio * covariance
        + ratio**2 * se_denominator**2
        - g * (se_numerator**2 - (covariance / se_denominator) ** 2 if se_denominator else 0.0)
    )
    half = t / abs(denominator) * math.sqrt(max(spread, 0.0))
    return RatioInterval(
        ratio=ratio,
        low=(centre - half) / (1 - g),
        high=(centre + half) / (1 - g),
        level=level,
        method="Fieller",
        df=df,
    )


def fieller_paired(after: ArrayLike, before: ArrayLike, *, level: float = LEVEL) -> RatioInterval:
    """Interval of mean(after)/mean(before) by `fieller`; arguments as for `log_ratio_paired`."""
    y, x = _paired(after, before)
    cov = np.cov(y, x) / len(y)
    return fieller(
        float(y.mean()),
        float(x.mean()),
        se_numerator=math.sqrt(cov[0, 0]),
        se_denominator=math.sqrt(cov[1, 1]),
        covariance=float(cov[0, 1]),
        df=len(y) - 1,
        level=level,
    )


def log_ratio_paired(after: ArrayLike, before: ArrayLike, *, level: float = LEVEL) -> RatioInterval:
    """Interval of mean(after)/mean(before) by its logarithm, the same spots on both sides.

    Bonett & Price 2020. The ends stay positive and the interval is the same for after/before and before/after
    turned over, which suits densities; single spots may be 0, the means may not.

    Parameters
    ----------
    after, before : (n,) array_like
        One value a spot, at least 0, in the same order; n at least 2.
    level : float, optional
        Confidence.

    Raises
    ------
    ValueError
        The sides differ in number, there are fewer than two spots, or a mean is not above 0.
    """
    y, x = _paired(after, before)
    mean_y, mean_x = float(y.mean()), float(x.mean())
    if mean_y <= 0 or mean_x <= 0:
        raise ValueError(f"both means must be above 0 to take logarithms, got {mean_y:g} and {mean_x:g}")
    cov = np.cov(y, x) / len(y)
    variance = cov[0, 0] / mean_y**2 + cov[1, 1] / mean_x**2 - 2 * cov[0, 1] / (mean_x * mean_y)
    return log_interval(
        mean_y / mean_x, se_log=math.sqrt(max(variance, 0.0)), df=len(y) - 1, method="paired", level=level
    )


def spots_interval(after: ArrayLike, before: ArrayLike) -> RatioInterval:
    """Interval of mean(after)/mean(before) over spots, by the logarithm, or Fieller's where unbounded.

    Fieller's says so (no bounds) where the before mean is not clear of zero; the logarithm would not.
    Arguments as for `log_ratio_paired`.
    """
    exact = fieller_paired(after, before)
    return log_ratio_paired(after, before) if exact.bounded else exact


def log_interval(
    ratio: float, *, se_log: float, df: float, method: Method, level: float = LEVEL
) -> RatioInterval:
    """Interval of a ratio whose logarithm has the error `se_log` of `df` degrees (delta method, Student)."""
    half = student_factor(df, level=level) * se_log
    return RatioInterval(
        ratio=ratio,
        low=ratio * math.exp(-half),
        high=ratio * math.exp(half),
        level=level,
        method=method,
        df=df,
    )


def effective_df(variances: tuple[float, ...], dfs: tuple[float, ...]) -> float:
    """Degrees of freedom of a sum of independent variances (Welch-Satterthwaite; GUM G.4.1).

    Parameters
    ----------
    variances : tuple of float
        The parts, each at least 0.
    dfs : tuple of float
        Degrees of freedom of each; infinite for a part that is known.

    Returns
    -------
    float
        Infinite where every part with a finite number is 0.

    Examples
    --------
    >>> effective_df((1.0, 1.0), (5, 5))
    10.0
    """
    below = sum(v**2 / df for v, df in zip(variances, dfs, strict=True) if v > 0)
    return sum(variances) ** 2 / below if below > 0 else math.inf


def _sample(values: ArrayLike) -> NDArray[np.float64]:
    sample = np.asarray(values, dtype=np.float64).ravel()
    if len(sample) < 2:
        raise ValueError(f"at least two spots are needed for an interval, got {len(sample)}")
    return sample


def _paired(after: ArrayLike, before: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    y, x = _sample(after), _sample(before)
    if len(y) != len(x):
        raise ValueError(f"before and after must be the same spots: {len(x)} before, {len(y)} after")
    return y, x
