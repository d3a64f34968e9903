"""How much finer or coarser the grain of one photograph is than that of another, light for light.

At one sensitivity a sensor's grain depends on the light alone (photon transfer, EMVA Standard 1288), so two
photographs of one camera have the same grain where they are equally bright, whatever was polished off the
paint in between: rendered pairs, corrected or not, agree to 0.03 in its logarithm. Noise reduction, strong
compression, sharpening and local contrast move it by 0.3 to 2.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from defectmap.comparison import tuning
from defectmap.panel.measurement import Mark, PanelMeasurement
from defectmap.panel.photo.colour import to_codes


@dataclass(frozen=True, slots=True, eq=False)
class BareBlocks:
    """Blocks of the zone without marks: their codes and light."""

    rest: NDArray[np.float32]  # (N, side, side) codes less their slow part
    band: NDArray[np.float32]  # (N,) mean square of the codes at the scale of a line
    light: NDArray[np.float32]  # (N,) linear


@dataclass(frozen=True, slots=True)
class LightClass:
    """Grain of one brightness."""

    codes: float  # scatter at the scale of a line, in steps of an 8-bit file
    blocks: int  # that it was read from


def bare_blocks(luminance: NDArray[np.float32], measured: PanelMeasurement) -> BareBlocks:
    """Blocks of `GRAIN_BLOCK_PX` in the zone with no line in or beside them, faint ones included.

    Of a large picture some strips are enough.
    """
    hidden = _drawn((*measured.marks, *measured.faint_marks), luminance.shape)
    strips = [_strip(luminance, measured.zone, hidden, rows) for rows in _strips(luminance.shape)]
    return BareBlocks(*(np.concatenate(parts) for parts in zip(*strips, strict=True)))


def _strips(shape: tuple[int, ...]) -> Iterator[range]:
    """Rows of blocks to look at: all of a small picture, every other strip or fewer of a large one."""
    rows = shape[0] // tuning.GRAIN_BLOCK_PX
    every = max(1, round(shape[0] * shape[1] / tuning.GRAIN_PIXELS))
    deep = tuning.GRAIN_STRIP_ROWS if every > 1 else max(1, rows)
    for top in range(0, max(1, rows), deep * every):
        yield range(top, min(top + deep, rows))


def _strip(
    luminance: NDArray[np.float32], zone: NDArray[np.bool_], hidden: NDArray[np.uint8], rows: range
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]]:
    """The fields of `BareBlocks` of one strip, filtered with a row of blocks more on either side."""
    import cv2

    side = tuning.GRAIN_BLOCK_PX
    inside = slice(rows.start * side, rows.stop * side)
    first = max(0, inside.start - side)
    codes = codes_of(luminance[first : inside.stop + side])
    own = slice(inside.start - first, inside.stop - first)
    bare = _blocks(zone[inside]).min(axis=(1, 2)) > 0
    bare &= _blocks(hidden[inside]).mean(axis=(1, 2)) < tuning.MOST_MARKED
    fine, slow, slower = (
        cv2.GaussianBlur(codes, (0, 0), sd) for sd in (*tuning.GRAIN_BAND_PX, tuning.GRAIN_SLOW_PX)
    )
    band = (_blocks((fine - slow)[own])[bare] ** 2).mean(axis=(1, 2))
    light = _blocks(luminance[inside])[bare].mean(axis=(1, 2))
    return _blocks((codes - slower)[own])[bare], band, light


def grain_by_light(bare: BareBlocks) -> dict[int, LightClass]:
    """Grain of each class of brightness that enough blocks show."""
    classes = np.floor(tuning.GRAIN_CLASSES_PER_STOP * np.log2(np.maximum(bare.light, 1e-5))).astype(int)
    found = {}
    for one in np.unique(classes):
        here = bare.band[classes == one]
        if len(here) >= tuning.GRAIN_CLASS_BLOCKS:
            found[int(one)] = LightClass(float(np.sqrt(np.quantile(here, tuning.GRAIN_QUANTILE))), len(here))
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class GrainStep:
    """How two grains differ beyond what is explained, over all brightness that both photographs show."""

    mean: float  # of ln(grain, after over before)
    rms: float  # of the same; a grain put back after smoothing differs one way in the dark, another in light


def grain_step(
    before: Mapping[int, LightClass],
    after: Mapping[int, LightClass],
    *,
    explained: float = 0.0,
    own_codes: float = 0.0,
) -> GrainStep | None:
    """Hold two grains against each other; None where they share too little.

    Parameters
    ----------
    before, after : mapping of int to LightClass
        See `grain_by_light`.
    explained : float, optional
        ln of the sensitivities, after over before: grain that grows less is no difference.
    own_codes : float, optional
        Grain beyond it is the paint's own and need not grow; a sensor's does, by `GRAIN_GROWTH` at least.
    """
    shared = sorted(before.keys() & after.keys())
    weights = [min(before[one].blocks, after[one].blocks) for one in shared]
    if sum(weights) < tuning.GRAIN_LEAST_BLOCKS:
        return None
    steps = np.array([math.log(_scatter(after[one]) / _scatter(before[one])) for one in shared])
    sensors = np.array([min(before[one].codes, after[one].codes) < own_codes for one in shared])
    least = np.where(sensors, 0.5 * tuning.GRAIN_GROWTH * explained, 0.0)
    rest = steps - np.clip(steps, np.minimum(least, explained), np.maximum(least, explained))
    mean, square = np.average(np.stack([rest, rest**2]), axis=1, weights=weights)
    return GrainStep(mean=float(mean), rms=math.sqrt(square))


def _scatter(one: LightClass) -> float:
    return max(one.codes, tuning.GRAIN_LEAST_CODES)


def _drawn(marks: Sequence[Mark], shape: tuple[int, ...]) -> NDArray[np.uint8]:
    import cv2

    drawn = np.zeros(shape, np.uint8)
    paths = [np.round(mark.points[:, ::-1]).astype(np.int32) for mark in marks]
    cv2.polylines(drawn, paths, False, 1, tuning.MARK_WIDTH_PX)
    return drawn


def codes_of(luminance: NDArray[np.float32]) -> NDArray[np.float32]:
    """Light in steps of an 8-bit file."""
    return 255 * to_codes(luminance)


def _blocks(picture: NDArray[np.generic]) -> NDArray[np.float32]:
    """(N, side, side) whole blocks of a picture."""
    side = tuning.GRAIN_BLOCK_PX
    rows, columns = (length // side for length in picture.shape)
    cut = picture[: rows * side, : columns * side].reshape(rows, side, columns, side)
    return np.asarray(cut.swapaxes(1, 2).reshape(-1, side, side), dtype=np.float32)
