"""What the photograph shows along a path: contrast on either side, in units of the noise of one pixel.

Contrast is read in linear light, from the picture itself and not from a filter's answer: the mean of the
three pixels across the line, minus the surround 3 to 6 pixels away on each side. Three pixels wide, the
figure hardly changes with focus. Along the line a running median is taken, because a crossing makes a bead
of light that a mean would smear.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from defectmap.noise import pixel_noise
from defectmap.results import Polarity
from defectmap.ridges import look_up
from defectmap.traces import Path

HALF_PROFILE_PX = 11
_NEAR_PX = (3, 6)  # surround of the line
_ALONG_PX = 9
_FAR_PX = (8, 11)  # surround of the surround
_THREE_PIXEL_SHARE = 0.65  # mean of the three middle pixels over the peak, for the lines of a focused camera


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Evidence:
    """Values at each point of one path; contrasts are positive where the line has the polarity asked for."""

    left: NDArray[np.float32]  # (N,) contrast to noise against one side
    right: NDArray[np.float32]  # (N,) and against the other
    hump: NDArray[np.float32]  # (N,) contrast to noise of the near surround against the far one
    surround: NDArray[np.float32]  # (N,) linear light beside the line
    profile: NDArray[np.float32]  # (N, 2 * HALF_PROFILE_PX + 1) light across the line

    @property
    def contrast_to_noise(self) -> NDArray[np.float32]:
        """Mean of both sides."""
        return 0.5 * (self.left + self.right)


def gather(
    luminance: NDArray[np.float32], paths: Sequence[Path], *, gain: float, polarity: Polarity
) -> list[Evidence]:
    """Read the light across and along paths.

    Parameters
    ----------
    luminance : (H, W) float32 ndarray
        Linear light 0..1.
    paths : sequence of (N, 2) float64 ndarray
        Row, column, about one point a pixel.
    gain : float
        See `noise.noise_gain`.
    polarity : "bright" or "dark"

    Returns
    -------
    list of Evidence
        One a path.
    """
    if not paths:
        return []
    light = profiles(luminance, paths, normals(paths), half_px=HALF_PROFILE_PX)
    cuts = np.cumsum([len(p) for p in paths])[:-1]
    left, right = _sides(light, [len(p) for p in paths], polarity)
    near = 0.5 * (left + right)
    outer = _FAR_PX[1] - _FAR_PX[0] + 1
    far = (_sum(light, -_FAR_PX[1], -_FAR_PX[0]) + _sum(light, *_FAR_PX)) / np.float32(2 * outer)
    unit = pixel_noise(near, gain=gain) * np.float32(1.0 if polarity == "bright" else -1.0)
    middle = _sum(light, -1, 1) / np.float32(3)
    table = [
        (middle - left) / (_THREE_PIXEL_SHARE * unit),
        (middle - right) / (_THREE_PIXEL_SHARE * unit),
        (near - far) / unit,
        near,
        light,
    ]
    parts = zip(*(np.split(column, cuts) for column in table), strict=True)
    return [
        Evidence(left=one, right=two, hump=hump, surround=surround, profile=profile)
        for one, two, hump, surround, profile in parts
    ]


def _sides(
    light: NDArray[np.float32], lengths: Sequence[int], polarity: Polarity
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Light beside the line on each side: where it is least like the line, averaged along 9 px.

    Between two bright lines only a few pixels are paint, and those are the darkest; so for a bright line the
    mean of the two darkest of four places is taken, for a dark one of the two brightest.
    """
    from scipy.ndimage import uniform_filter1d

    source, real = _padded(lengths, _ALONG_PX // 2)
    sides = []
    for span in (_span(light, -_NEAR_PX[1], -_NEAR_PX[0]), _span(light, *_NEAR_PX)):
        even = uniform_filter1d(span[source], _ALONG_PX, axis=0)[real]
        even.sort(axis=1)
        two = even[:, :2] if polarity == "bright" else even[:, -2:]
        sides.append(0.5 * (two[:, 0] + two[:, 1]))
    return sides[0], sides[1]


def _padded(lengths: Sequence[int], pad: int) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Rows of joined paths with each path's ends repeated, so that one filter serves all and mixes none.

    Returns
    -------
    source : (M,) int64 ndarray
        Row of the joined array to put in each place.
    real : (M,) bool ndarray
        Places that are no padding.
    """
    sizes = np.asarray(lengths)
    starts = np.cumsum(sizes) - sizes
    places = np.arange((sizes + 2 * pad).sum())
    path = np.repeat(np.arange(len(sizes)), sizes + 2 * pad)
    along = places - (starts + 2 * pad * np.arange(len(sizes)))[path] - pad
    real = (along >= 0) & (along < sizes[path])
    return starts[path] + np.clip(along, 0, sizes[path] - 1), real


def _sum(light: NDArray[np.float32], first: int, last: int) -> NDArray[np.float32]:
    """Sum over some columns; a loop over them is several times faster than a reduction along rows."""
    total = light[:, HALF_PROFILE_PX + first].copy()
    for column in range(first + 1, last + 1):
        total += light[:, HALF_PROFILE_PX + column]
    return total


def _span(light: NDArray[np.float32], first: int, last: int) -> NDArray[np.float32]:
    return light[:, HALF_PROFILE_PX + first : HALF_PROFILE_PX + last + 1]


def profiles(
    luminance: NDArray[np.float32], paths: Sequence[Path], across: NDArray[np.float64], *, half_px: int
) -> NDArray[np.float32]:
    """Light across paths, a sample a pixel.

    Parameters
    ----------
    luminance : (H, W) float32 ndarray
    paths : sequence of (N, 2) float64 ndarray
    across : (M, 2) float64 ndarray
        `normals` of the paths, M points in all.
    half_px : int
        Samples on each side.

    Returns
    -------
    (M, 2 * half_px + 1) float32 ndarray
    """
    points, slant = np.concatenate(paths).astype(np.float32), across.astype(np.float32)
    offsets = np.arange(-half_px, half_px + 1, dtype=np.float32)
    return look_up(luminance, points[:, :1] + offsets * slant[:, :1], points[:, 1:] + offsets * slant[:, 1:])


def normals(paths: Sequence[Path]) -> NDArray[np.float64]:
    """Unit vectors across each path, all paths in one (N, 2) array."""
    along = np.concatenate([np.gradient(p, axis=0) for p in paths])
    along /= np.maximum(np.hypot(along[:, 0], along[:, 1]), 1e-9)[:, None]
    return np.column_stack([along[:, 1], -along[:, 0]])


def running_contrast(
    evidence: Sequence[Evidence], *, window_px: int, lopsided: float = 2.5
) -> list[NDArray[np.float32]]:
    """Contrast to noise along paths: running medians of both sides, the weaker side limiting the mean.

    A line stands out on both sides. An edge, or the dark lobe beside a bright line, does so on one side only
    and gets nothing; on a slope of light the sides differ a little and the mean stands.

    Parameters
    ----------
    evidence : sequence of Evidence
        One a path.
    window_px : int
        Odd number of points.
    lopsided : float
        Largest ratio of the mean to the weaker side.

    Returns
    -------
    list of (N,) float32 ndarray
        One a path.
    """
    from scipy.ndimage import median_filter

    if not evidence:
        return []
    lengths = [len(e.left) for e in evidence]
    source, real = _padded(lengths, window_px // 2)
    one = median_filter(np.concatenate([e.left for e in evidence])[source], size=window_px)[real]
    two = median_filter(np.concatenate([e.right for e in evidence])[source], size=window_px)[real]
    limited = np.minimum(0.5 * (one + two), np.float32(lopsided) * np.minimum(one, two))
    return np.split(limited, np.cumsum(lengths)[:-1])


def width_px(profile: NDArray[np.float32], polarity: Polarity) -> float:
    """Full width at half height of the median cross profile, from its area over its height.

    The ratio is that of a Gaussian line: FWHM = 0.9394 area / height.
    """
    median = np.median(profile, axis=0)
    middle = HALF_PROFILE_PX
    sides = np.concatenate([median[middle - 6 : middle - 3], median[middle + 4 : middle + 7]])
    sign = 1.0 if polarity == "bright" else -1.0
    line = sign * (median[middle - 4 : middle + 5] - np.median(sides))
    peak = float(line[3:6].max())
    return 0.9394 * float(np.maximum(line, 0).sum()) / peak if peak > 0 else 0.0
