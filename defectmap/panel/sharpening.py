"""How much a phone sharpened the picture, read from its lines, and how a profile is read as if it had not.

Unsharp masking adds to the codes a share of what they exceed a blurred copy by. Beside a bright line that
leaves a dark lobe, and the line itself gains light: its sum over the codes stays, that over the light, which
the curve of the codes bends, does not (up to a third more where the phone stood far away). The lobe tells how
it was done, and taking it back is a low-pass filter, which raises no noise.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from defectmap.panel import tuning
from defectmap.panel.measurement import Sharpening
from defectmap.panel.noise import MEDIAN_OF_NORMAL
from defectmap.panel.paths import Paths, normals, paint
from defectmap.panel.photo.colour import to_codes, to_light
from defectmap.panel.ridges import look_up

Floats = NDArray[np.floating[Any]]

_HALF_PX = np.arange(2 * tuning.LOBE_REACH_PX + 1) / 2  # from the line: its profile
_FAR_PX = np.arange(tuning.LOBE_REACH_PX + 1, tuning.LOBE_GROUND_PX[1] + 1, dtype=np.float64)
_AWAY_PX = np.concatenate([-_FAR_PX[::-1], -_HALF_PX[:0:-1], _HALF_PX, _FAR_PX])
_LOBE = abs(_HALF_PX - np.mean(tuning.LOBE_PX)) <= np.ptp(tuning.LOBE_PX) / 2
_GROUND = np.abs(_AWAY_PX) >= tuning.LOBE_GROUND_PX[0]
MEDIAN_ERROR = 1.25  # standard error of a median over that of a mean: √(π / 2)
_CURVE = 2.4  # exponent of the sRGB transfer function (IEC 61966-2-1)


def sharpening(luminance: NDArray[np.float32], bright: Paths) -> Sharpening | None:
    """Read the sharpening of a picture from the median profile across its bright lines.

    Parameters
    ----------
    luminance : (H, W) float32 ndarray
        Linear light 0..1.
    bright : Paths
        Bright lines, row, column, about one point a pixel.

    Returns
    -------
    Sharpening or None
        None where too few lines stand alone and clear of the steps of an 8-bit file.
    """
    profiles, heights = _profiles(luminance, bright)
    if len(profiles) < tuning.LOBE_LEAST_LINES:
        return None
    typical = np.median(profiles, axis=0)
    # standard deviation of a median, of scatter told by the median deviation
    doubt = (
        MEDIAN_ERROR
        * np.median(np.abs(profiles - typical), axis=0)
        / MEDIAN_OF_NORMAL
        / np.sqrt(len(profiles))
    )
    deepest = int(np.argmin(typical[_LOBE]))
    overshoot = -float(typical[_LOBE][deepest])
    sure = overshoot - float(doubt[_LOBE][deepest]) - tuning.LOBE_DEPTH[0]
    if sure <= 0:
        return Sharpening(overshoot=overshoot)
    share = min(sure / (tuning.LOBE_DEPTH[1] - tuning.LOBE_DEPTH[0]), 1.0)
    doubt = np.maximum(doubt, tuning.LOBE_LEAST_DOUBT)
    amount, sd_px = _fitted(typical, doubt, contrast=float(np.median(heights)))
    return Sharpening(overshoot=overshoot, amount=share * amount, sd_px=sd_px)


def taken_back(
    light: NDArray[np.float32], done: Sharpening, *, step_px: float, margin: int
) -> NDArray[np.float32]:
    """Profiles across lines as they were before the picture was sharpened.

    Parameters
    ----------
    light : (N, K + 2 * margin) float32 ndarray
        Linear light at even distances across each point of a line.
    step_px : float
        Distance of two samples.
    margin : int
        Samples on either side that are read for the filter alone, see `margin_px`.

    Returns
    -------
    (N, K) float32 ndarray
        Linear light.
    """
    wide = light.shape[1]
    undo = _undo(done, step_px=step_px, wide=wide, kept=wide - 2 * margin)
    return to_light(to_codes(light) @ undo)


def margin_px(done: Sharpening) -> float:
    """How far the filter that takes the sharpening back reaches: what lies beyond weighs less than 1 %."""
    return tuning.LOBE_REACH_SD * done.sd_px


def _profiles(luminance: NDArray[np.float32], bright: Paths) -> tuple[Floats, Floats]:
    """Half profiles over their height, in codes, and each line's contrast in light."""
    long = np.sort(np.argsort(-bright.lengths, kind="stable")[: tuning.LOBE_MOST_LINES])
    wanted = np.zeros(len(bright), bool)
    wanted[long] = bright.lengths[long] >= tuning.LOBE_LEAST_PX
    paths = bright.keep(wanted)
    if not len(paths):
        return np.empty((0, len(_HALF_PX))), np.empty(0)
    codes = to_codes(_across(luminance, paths, bright)).astype(np.float64)
    ground = np.median(codes[:, _GROUND], axis=1, keepdims=True)
    middle = len(_AWAY_PX) // 2
    rows = (0.5 * (codes + codes[:, ::-1]))[:, middle : middle + len(_HALF_PX)]
    height = rows[:, :1] - ground
    clear = (height[:, 0] > tuning.LOBE_LEAST_HEIGHT) & (ground[:, 0] > 0)  # over black there is no contrast
    rows, ground, height = rows[clear], ground[clear], height[clear]
    contrast = to_light((ground + height).astype(np.float32)) / to_light(ground.astype(np.float32)) - 1
    return (rows - ground) / height, contrast[:, 0].astype(np.float64)


def _across(luminance: NDArray[np.float32], paths: Paths, others: Paths) -> NDArray[np.float32]:
    """(P, K) median light across each line that has no other along most of it, at `_AWAY_PX`."""
    along = np.linspace(0, 1, tuning.LOBE_POINTS) * (paths.lengths[:, None] - 1)
    taken = (paths.starts[:, None] + np.round(along).astype(int)).ravel()
    place, slant = paths.points[taken].astype(np.float32), normals(paths)[taken].astype(np.float32)
    away = _AWAY_PX.astype(np.float32)
    at = (place[:, :1] + away * slant[:, :1], place[:, 1:] + away * slant[:, 1:])
    drawn = np.zeros(luminance.shape, np.uint8)
    paint(drawn, *(line[:: tuning.PAINT_STEP_PX] for line in others.lines()), width_px=1)
    beside = (np.abs(away) >= tuning.LOBE_OWN_PX) & (np.abs(away) <= tuning.LOBE_REACH_PX)
    crowded = look_up(drawn, *at)[:, beside].max(axis=1).reshape(along.shape) > 0
    alone = crowded.mean(axis=1) < tuning.LOBE_CROWDED
    light = look_up(luminance, *at).reshape(*along.shape, len(away))
    return np.asarray(np.median(light[alone], axis=1), np.float32)


def _fitted(typical: Floats, doubt: Floats, *, contrast: float) -> tuple[float, float]:
    """Amount and standard deviation of the mask that made the typical profile of a line."""
    from scipy.optimize import least_squares

    wanted = typical / doubt

    def missed(shape: Floats) -> Floats:
        form = _form(*shape, contrast=contrast) / doubt
        # no ground of its own: it would pass the light of faint neighbours for one, and the lobe for deeper
        return np.asarray(form * (form @ wanted) / (form @ form) - wanted)

    low, high = zip(tuning.LINE_SD, tuning.MASK_AMOUNT, tuning.MASK_SD_PX, strict=True)
    tried = [least_squares(missed, start, bounds=(low, high)) for start in tuning.MASK_STARTS]
    best = min(tried, key=lambda one: float(one.cost))
    return float(best.x[1]), float(best.x[2])


def _form(line_sd_px: float, amount: float, sd_px: float, *, contrast: float) -> Floats:
    """Half profile, in codes, of a sharpened line: a Gaussian in light, as pixels show it."""
    away, frequency, pixel = _grid()
    line = _filtered(np.exp(-(away**2) / (2 * line_sd_px**2)), pixel)
    codes = (1 + contrast * line / line.max()) ** (1 / _CURVE) - 1
    mask = 1 + amount * (1 - _blur(sd_px, frequency))
    seen = _filtered(codes, mask * pixel**2)
    return np.asarray(np.interp(_HALF_PX, away, seen / seen.max()))


@lru_cache(maxsize=1)
def _grid() -> tuple[Floats, Floats, Floats]:
    """Places across a line in px, frequencies in cycles a pixel, and the response of a pixel's square."""
    reach = round((tuning.LOBE_REACH_PX + 4) / tuning.LOBE_FINE_PX)
    away = np.arange(-reach, reach + 1) * tuning.LOBE_FINE_PX
    frequency = np.fft.fftfreq(2 * len(away), d=tuning.LOBE_FINE_PX)
    return away, frequency, np.sinc(frequency)


def _filtered(values: Floats, response: Floats) -> Floats:
    return np.asarray(np.fft.ifft(np.fft.fft(values, len(response)) * response).real[: len(values)])


def _blur(sd_px: float, frequency: Floats) -> Floats:
    """Frequency response of a Gaussian blur; frequency in cycles a pixel."""
    return np.asarray(np.exp(-2 * (np.pi * sd_px * frequency) ** 2))


def _undo(done: Sharpening, *, step_px: float, wide: int, kept: int) -> NDArray[np.float32]:
    """(wide, kept) matrix that takes profiles to what they were; each column sums to 1."""
    size = 1 << (4 * wide).bit_length()
    frequency = np.fft.fftfreq(size, d=step_px)
    filtered = np.fft.ifft(1 / (1 + done.amount * (1 - _blur(done.sd_px, frequency)))).real
    apart = (np.arange(kept) + (wide - kept) // 2)[None, :] - np.arange(wide)[:, None]
    undo = filtered[apart % size]
    return np.asarray(undo / undo.sum(axis=0, keepdims=True), np.float32)
