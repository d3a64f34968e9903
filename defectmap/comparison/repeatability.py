"""How far the method's own scatter goes: the same spot photographed several times.

Terms of ISO 5725 (repeatability standard deviation, repeatability limit) and of the GUM (type A evaluation of
standard uncertainty, JCGM 100:2008, 4.2 and G.4).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from defectmap.comparison.interval import student_factor


@dataclass(frozen=True, slots=True, kw_only=True)
class TypeA:
    """A quantity observed several times under the same conditions (GUM 4.2)."""

    observations: int
    mean: float
    standard_deviation: float  # of one observation, n - 1
    standard_uncertainty: float  # of the mean
    df: float

    @property
    def relative(self) -> float:
        """Coefficient of variation; infinite for a mean of 0 with scatter, 0 for no scatter at all."""
        if self.standard_deviation == 0:
            return 0.0
        return self.standard_deviation / abs(self.mean) if self.mean else math.inf


@dataclass(frozen=True, slots=True, kw_only=True)
class ShotComponents:
    """Where the scatter between shots of one spot comes from, as shares of the mean density."""

    shots: int
    total: float  # repeatability standard deviation of one shot
    common: float  # part that moves all sectors together: exposure, focus, noise
    local: float  # part left after `common`: which grooves happened to catch the light
    df_total: float
    df_common: float  # Satterthwaite's; at least 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Precision:
    """Scatter of single results: with one phone, and with any phone (ISO 5725-1)."""

    phones: int
    mean: float
    repeatability: float  # standard deviation with one phone; NaN where each took one photograph
    reproducibility: float  # standard deviation with any phone
    df: float  # of the scatter between phones


def type_a(values: ArrayLike) -> TypeA:
    """Mean, standard deviation and standard uncertainty of repeated observations.

    Parameters
    ----------
    values : (n,) array_like
        Observations in any unit; n at least 2.

    Returns
    -------
    TypeA
        In the unit of `values`.

    Raises
    ------
    ValueError
        There are fewer than two values.

    Examples
    --------
    >>> round(type_a([10.0, 12.0]).standard_uncertainty, 9)
    1.0
    """
    sample = np.asarray(values, dtype=np.float64).ravel()
    if len(sample) < 2:
        raise ValueError(f"at least two observations are needed to see scatter, got {len(sample)}")
    s = float(sample.std(ddof=1))
    return TypeA(
        observations=len(sample),
        mean=float(sample.mean()),
        standard_deviation=s,
        standard_uncertainty=s / math.sqrt(len(sample)),
        df=float(len(sample) - 1),
    )


def precision(groups: Sequence[ArrayLike]) -> Precision:
    """Repeatability and reproducibility from several phones (laboratories) that measured one spot.

    ISO 5725-2:1994, 7.4: variance within phones pooled, s_r²; between phones s_L² = (MS_between - s_r²) / n̄,
    at least 0; reproducibility s_R² = s_r² + s_L² (from memory; the arithmetic is that of a one-way layout).
    Where every phone took one photograph the scatter between them is the reproducibility itself.

    Parameters
    ----------
    groups : sequence of (n_i,) array_like
        Observations with one phone each; two phones at least.

    Raises
    ------
    ValueError
        There are fewer than two phones, or one without observations.
    """
    cells = [np.asarray(group, dtype=np.float64).ravel() for group in groups]
    counts = np.array([len(cell) for cell in cells], dtype=np.float64)
    if len(cells) < 2 or not counts.all():
        raise ValueError("reproducibility needs observations with two phones or more")
    total, phones = float(counts.sum()), len(cells)
    mean = float(np.concatenate(cells).mean())
    means = np.array([cell.mean() for cell in cells])
    between = float((counts * (means - mean) ** 2).sum()) / (phones - 1)
    df_within = total - phones
    if not df_within:
        return Precision(
            phones=phones,
            mean=mean,
            repeatability=math.nan,
            reproducibility=math.sqrt(between),
            df=phones - 1,
        )
    within = sum(float(((cell - cell.mean()) ** 2).sum()) for cell in cells) / df_within
    usual = (total - float((counts**2).sum()) / total) / (phones - 1)  # n̄ of phones with unlike numbers
    laboratory = max(0.0, (between - within) / usual)
    return Precision(
        phones=phones,
        mean=mean,
        repeatability=math.sqrt(within),
        reproducibility=math.sqrt(within + laboratory),
        df=phones - 1,
    )


def repeatability_limit(standard_deviation: float) -> float:
    """Difference that two single results exceed only once in twenty times: r = 1.96 √2 s_r (ISO 5725-6).

    Parameters
    ----------
    standard_deviation : float
        Repeatability standard deviation, well known (many degrees of freedom).

    Returns
    -------
    float
        In the unit of `standard_deviation`.

    Examples
    --------
    >>> round(repeatability_limit(0.021), 3)
    0.058
    """
    if standard_deviation < 0:
        raise ValueError(f"a standard deviation is at least 0, got {standard_deviation!r}")
    return student_factor(math.inf) * math.sqrt(2) * standard_deviation


def critical_difference(standard_deviation: float, *, df: float) -> float:
    """Smallest difference of two shots that is not scatter, the scatter itself known from few shots.

    Parameters
    ----------
    standard_deviation : float
        Repeatability standard deviation of one shot.
    df : float
        Degrees of freedom behind it: with 5 shots, 4. Student's factor takes the place of 1.96.

    Returns
    -------
    float
        In the unit of `standard_deviation`.
    """
    return student_factor(df) * math.sqrt(2) * standard_deviation


def smallest_provable_change_percent(relative: float, *, df: float) -> float:
    """Smallest reduction, in percent, that one photograph a side can prove against the capture scatter alone.

    The logarithm of a ratio of two single densities has the standard deviation √2 · `relative`.

    Parameters
    ----------
    relative : float
        Repeatability standard deviation as a share of the mean.
    df : float
        Degrees of freedom behind it.

    Returns
    -------
    float
        Between 0 and 100.
    """
    return 100 * (1 - math.exp(-critical_difference(relative, df=df)))


def relative_sd_of_sd(shots: int) -> float:
    """How well a standard deviation from `shots` observations is itself known: 1/√(2(n-1)) (GUM E.4.3)."""
    if shots < 2:
        raise ValueError(f"at least two observations are needed, got {shots!r}")
    return 1 / math.sqrt(2 * (shots - 1))


def shot_components(lengths: ArrayLike) -> ShotComponents:
    """Split the scatter between shots into a part common to all sectors and a local one.

    Two-way layout without replication, shots by sectors: the mean square of shots estimates S·common² + local
    scatter, the mean square of the interaction the local scatter of one sector. A comparison takes the local
    part from its own sectors (block bootstrap), so only `common` must be added to it.

    Parameters
    ----------
    lengths : (n, S) array_like
        Length of marks, or any additive figure, by shot and sector; sectors are the same places in every
        shot.

    Returns
    -------
    ShotComponents
        As shares of the grand mean; all 0 where nothing was seen in any shot.

    Raises
    ------
    ValueError
        There are fewer than two shots or two sectors.
    """
    table = np.asarray(lengths, dtype=np.float64)
    if table.ndim != 2 or min(table.shape) < 2:
        raise ValueError(f"at least two shots of two sectors are needed, got an array of shape {table.shape}")
    shots, sectors = table.shape
    if table.mean() == 0:
        return ShotComponents(
            shots=shots, total=0.0, common=0.0, local=0.0, df_total=shots - 1, df_common=1.0
        )
    ms_shot, ms_rest = _mean_squares(table / table.mean())
    common = max(0.0, (ms_shot - ms_rest) / sectors)
    total = ms_shot / sectors
    return ShotComponents(
        shots=shots,
        total=math.sqrt(total),
        common=math.sqrt(common),
        local=math.sqrt(total - common),
        df_total=float(shots - 1),
        df_common=_df_of_difference(ms_shot, ms_rest, shots=shots, sectors=sectors),
    )


def _mean_squares(table: NDArray[np.float64]) -> tuple[float, float]:
    """Mean squares of the rows and of the interaction."""
    rows, columns = table.shape
    row_means = table.mean(axis=1, keepdims=True)
    rest = table - row_means - table.mean(axis=0, keepdims=True) + table.mean()
    ms_rows = columns * float(((row_means - table.mean()) ** 2).sum()) / (rows - 1)
    return ms_rows, float((rest**2).sum()) / ((rows - 1) * (columns - 1))


def _df_of_difference(ms_shot: float, ms_rest: float, *, shots: int, sectors: int) -> float:
    """Satterthwaite's degrees of freedom of the component MS_shot - MS_rest, at least 1."""
    below = ms_shot**2 / (shots - 1) + ms_rest**2 / ((shots - 1) * (sectors - 1))
    return max(1.0, (ms_shot - ms_rest) ** 2 / below) if below > 0 and ms_shot > ms_rest else 1.0
