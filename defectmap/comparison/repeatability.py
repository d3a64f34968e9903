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

LEVEL = 0.95


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
    sectors: int
    total: float  # repeatability standard deviation of one shot
    common: float  # part that moves all sectors together: exposure, focus, noise
    local: float  # part left after `common`: which grooves happened to catch the light
    df_total: float
    df_common: float  # Satterthwaite's; at least 1


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


def pooled_repeatability(groups: Sequence[ArrayLike]) -> TypeA:
    """Repeatability standard deviation from several spots, each shot at least twice (ISO 5725-2).

    Parameters
    ----------
    groups : sequence of (n_i,) array_like
        Observations of one spot each.

    Returns
    -------
    TypeA
        `mean` is the grand mean and `standard_uncertainty` that of one spot with the average number of shots.

    Raises
    ------
    ValueError
        A spot has fewer than two observations, or there is no spot.
    """
    cells = [type_a(group) for group in groups]
    if not cells:
        raise ValueError("there is no spot to take scatter from")
    df = sum(cell.df for cell in cells)
    s = math.sqrt(sum(cell.df * cell.standard_deviation**2 for cell in cells) / df)
    shots = sum(cell.observations for cell in cells)
    return TypeA(
        observations=shots,
        mean=sum(cell.observations * cell.mean for cell in cells) / shots,
        standard_deviation=s,
        standard_uncertainty=s / math.sqrt(shots / len(cells)),
        df=df,
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
    return 1.959963984540054 * math.sqrt(2) * standard_deviation


def critical_difference(
    standard_deviation: float, *, df: float, shots_before: int = 1, shots_after: int = 1, level: float = LEVEL
) -> float:
    """Smallest difference of two results that is not scatter, the scatter itself known from few shots.

    Parameters
    ----------
    standard_deviation : float
        Repeatability standard deviation of one shot.
    df : float
        Degrees of freedom behind it: with 5 shots, 4. Student's factor takes the place of 1.96.
    shots_before, shots_after : int, optional
        Photographs averaged on each side.
    level : float, optional
        Confidence.

    Returns
    -------
    float
        In the unit of `standard_deviation`.
    """
    from scipy.special import stdtrit

    if shots_before < 1 or shots_after < 1:
        raise ValueError("each side needs at least one photograph")
    factor = float(stdtrit(df, (1 + level) / 2))
    return factor * standard_deviation * math.sqrt(1 / shots_before + 1 / shots_after)


def smallest_provable_change_percent(relative: float, *, df: float, level: float = LEVEL) -> float:
    """Smallest reduction, in percent, that one photograph a side can prove against the capture scatter alone.

    The logarithm of a ratio of two single densities has the standard deviation √2 · `relative`.

    Parameters
    ----------
    relative : float
        Repeatability standard deviation as a share of the mean.
    df : float
        Degrees of freedom behind it.
    level : float, optional
        Confidence.

    Returns
    -------
    float
        Between 0 and 100.
    """
    return 100 * (1 - math.exp(-critical_difference(relative, df=df, level=level)))


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
            shots=shots, sectors=sectors, total=0.0, common=0.0, local=0.0, df_total=shots - 1, df_common=1.0
        )
    ms_shot, ms_rest = _mean_squares(table / table.mean())
    common = max(0.0, (ms_shot - ms_rest) / sectors)
    total = ms_shot / sectors
    return ShotComponents(
        shots=shots,
        sectors=sectors,
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
