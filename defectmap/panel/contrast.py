"""What the photograph shows along a path: contrast on either side, in units of the noise of one pixel.

Contrast is read in linear light, from the picture itself and not from a filter's answer: the mean of the
three pixels across the line, minus the surround 3 to 6 pixels away on each side. Three pixels wide, the
figure hardly changes with focus. Along the line a running median is taken, because a crossing makes a bead
of light that a mean would smear.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from defectmap.panel import tuning
from defectmap.panel.measurement import Polarity
from defectmap.panel.noise import pixel_noise
from defectmap.panel.paths import Paths, normals
from defectmap.panel.ridges import look_up

GAUSSIAN_WIDTH = 0.9394  # of a Gaussian, full width at half height over its area by its height: 2 √(ln 2 / π)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LineLight:
    """Values at each point of lines; contrasts are positive where the line has the polarity asked for."""

    left: NDArray[np.float32]  # (N,) contrast to noise against one side
    right: NDArray[np.float32]  # (N,) and against the other
    hump: NDArray[np.float32]  # (N,) contrast to noise of the near surround against the far one
    line: NDArray[np.float32]  # (N,) linear light of the line, three pixels wide
    surround: NDArray[np.float32]  # (N,) linear light beside the line
    profile: NDArray[np.float32]  # (N, 2 * tuning.HALF_PROFILE_PX + 1) light across the line

    def part(self, piece: slice) -> LineLight:
        """Only some of the points."""
        return LineLight(
            left=self.left[piece],
            right=self.right[piece],
            hump=self.hump[piece],
            line=self.line[piece],
            surround=self.surround[piece],
            profile=self.profile[piece],
        )

    @property
    def contrast_to_noise(self) -> NDArray[np.float32]:
        """Mean of both sides."""
        return 0.5 * (self.left + self.right)


def gather(luminance: NDArray[np.float32], paths: Paths, *, gain: float, polarity: Polarity) -> LineLight:
    """Read the light across and along lines.

    Parameters
    ----------
    luminance : (H, W) float32 ndarray
        Linear light 0..1.
    paths : Paths
        Row, column, about one point a pixel.
    gain : float
        See `noise.noise_gain`.
    polarity : "bright" or "dark"

    Returns
    -------
    LineLight
        At the points of all lines, end to end.
    """
    offsets = np.arange(-tuning.HALF_PROFILE_PX, tuning.HALF_PROFILE_PX + 1)
    light = light_across(luminance, paths.points, normals(paths), offsets)
    left, right = _sides(light, paths, polarity)
    near = 0.5 * (left + right)
    outer = tuning.BEYOND_PX[1] - tuning.BEYOND_PX[0] + 1
    far = (
        _sum(light, -tuning.BEYOND_PX[1], -tuning.BEYOND_PX[0]) + _sum(light, *tuning.BEYOND_PX)
    ) / np.float32(2 * outer)
    unit = pixel_noise(near, gain=gain) * np.float32(1.0 if polarity == "bright" else -1.0)
    middle = _sum(light, -1, 1) / np.float32(3)
    return LineLight(
        left=(middle - left) / (tuning.THREE_PIXEL_SHARE * unit),
        right=(middle - right) / (tuning.THREE_PIXEL_SHARE * unit),
        hump=(near - far) / unit,
        line=middle,
        surround=near,
        profile=light,
    )


def _sides(
    light: NDArray[np.float32], paths: Paths, polarity: Polarity
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Light beside the line on each side: where it is least like the line, averaged along 9 px.

    Between two bright lines only a few pixels are paint, and those are the darkest; so for a bright line the
    mean of the two darkest of four places is taken, for a dark one of the two brightest.
    """
    spans = np.hstack(
        [_span(light, -tuning.BESIDE_PX[1], -tuning.BESIDE_PX[0]), _span(light, *tuning.BESIDE_PX)]
    )
    sides = []
    for even in np.hsplit(averaged(spans, paths, window_px=tuning.ALONG_PX), 2):
        ranked = in_order(even)
        first, second = ranked[:2] if polarity == "bright" else ranked[-2:]
        sides.append(0.5 * (first + second))
    return sides[0], sides[1]


def in_order(values: NDArray[np.float32]) -> list[NDArray[np.float32]]:
    """The smallest of each row, the next, and so on.

    Neighbours are exchanged, column by column: for the few columns of a line's surround that takes a tenth of
    the time of sorting row by row.

    Parameters
    ----------
    values : (N, K) float32 ndarray
        Without NaN.

    Returns
    -------
    list of K (N,) float32 ndarray

    Examples
    --------
    >>> [column.tolist() for column in in_order(np.array([[3, 1, 2]], np.float32))]
    [[1.0], [2.0], [3.0]]
    """
    columns = list(np.ascontiguousarray(values.T))
    for end in range(len(columns) - 1, 0, -1):
        for i in range(end):
            one, other = columns[i], columns[i + 1]
            columns[i], columns[i + 1] = np.minimum(one, other), np.maximum(one, other)
    return columns


def averaged(values: NDArray[np.float32], paths: Paths, *, window_px: int) -> NDArray[np.float32]:
    """Running mean along each line, its end values repeated beyond the ends.

    Parameters
    ----------
    values : (N, ...) float32 ndarray
        One row for each point of the lines.
    window_px : int
        Odd number of points.
    """
    from scipy.ndimage import uniform_filter1d

    source, real = paths.padded(window_px // 2)
    return np.asarray(uniform_filter1d(values[source], window_px, axis=0)[real])


def _sum(light: NDArray[np.float32], first: int, last: int) -> NDArray[np.float32]:
    """Sum over some columns; a loop over them is several times faster than a reduction along rows."""
    total = light[:, tuning.HALF_PROFILE_PX + first].copy()
    for column in range(first + 1, last + 1):
        total += light[:, tuning.HALF_PROFILE_PX + column]
    return total


def _span(light: NDArray[np.float32], first: int, last: int) -> NDArray[np.float32]:
    return light[:, tuning.HALF_PROFILE_PX + first : tuning.HALF_PROFILE_PX + last + 1]


def light_across(
    luminance: NDArray[np.float32],
    points: NDArray[np.float64],
    across: NDArray[np.float64],
    offsets_px: NDArray[Any],
) -> NDArray[np.float32]:
    """(N, K) light at K places across lines.

    Parameters
    ----------
    luminance : (H, W) float32 ndarray
    points, across : (N, 2) float64 ndarray
        Of the lines, and `paths.normals` there.
    offsets_px : (K,) ndarray
        Places on the normal.
    """
    place, slant, away = (values.astype(np.float32) for values in (points, across, offsets_px))
    return look_up(luminance, place[:, :1] + away * slant[:, :1], place[:, 1:] + away * slant[:, 1:])


def running_contrast(evidence: LineLight, paths: Paths, *, window_px: int) -> NDArray[np.float32]:
    """Contrast to noise along lines: running medians of both sides, the weaker side limiting the mean.

    A line stands out on both sides. An edge, or the dark lobe beside a bright line, does so on one side only
    and gets nothing; on a slope of light the sides differ a little and the mean stands.

    Parameters
    ----------
    paths : Paths
        The lines it was read along.
    window_px : int
        Odd number of points.

    Returns
    -------
    (N,) float32 ndarray
    """
    one, two = (running_median(side, paths, window_px=window_px) for side in (evidence.left, evidence.right))
    weaker = np.float32(tuning.MOST_LOPSIDED) * np.minimum(one, two)
    return np.asarray(np.minimum(0.5 * (one + two), weaker))


def running_median(values: NDArray[np.float32], paths: Paths, *, window_px: int) -> NDArray[np.float32]:
    """Median along each line, its end values repeated beyond the ends; ``window_px`` is odd."""
    from scipy.ndimage import median_filter

    source, real = paths.padded(window_px // 2)
    return np.asarray(median_filter(values[source], size=window_px)[real])


def width_px(profile: NDArray[np.float32], polarity: Polarity) -> float:
    """Full width at half height of the median cross profile, from its area over its height.

    The ratio is that of a Gaussian line.
    """
    near = slice(
        tuning.HALF_PROFILE_PX - tuning.WIDTH_HALF_PX, tuning.HALF_PROFILE_PX + tuning.WIDTH_HALF_PX + 1
    )
    some = profile[:: max(1, len(profile) // tuning.WIDTH_SAMPLES), near]
    median = np.partition(some, len(some) // 2, axis=0)[len(some) // 2]
    sides = np.sort(np.concatenate([median[:3], median[-3:]]))
    sign = 1.0 if polarity == "bright" else -1.0
    line = sign * (median[2:-2] - 0.5 * (sides[2] + sides[3]))
    middle = len(line) // 2
    peak = float(line[middle - 1 : middle + 2].max())
    return GAUSSIAN_WIDTH * float(np.maximum(line, 0).sum()) / peak if peak > 0 else 0.0
