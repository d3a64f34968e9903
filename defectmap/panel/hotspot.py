"""The lamp's reflection: where it is, how large, how many lamps, what light it throws around, and haze."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from defectmap.errors import LampCut, NoHotspot, UnmeasurableLight
from defectmap.panel import tuning
from defectmap.panel.background import Background
from defectmap.panel.measurement import Hotspot

Halo = tuple[NDArray[np.float64], NDArray[np.float64]]  # distance from the hotspot in px, light there


def find_hotspot(
    luminance: NDArray[np.float32], *, name: str = "the photo", masked: NDArray[np.bool_] | None = None
) -> Hotspot:
    """Find the lamp's reflection, a single lamp or a cluster of LEDs as one.

    The brightest group of blobs wins, by the light in it, so that a weaker second lamp is left out. The
    centre is the mean of the centroids of four contours: orange peel frays each of them, but not the same
    way.

    Parameters
    ----------
    luminance : (H, W) float32 ndarray
        Linear light 0..1.
    name : str
        For the refusal.
    masked : (H, W) bool ndarray, optional
        Where the lamp is not: the scale card, whose white paper may be burnt out as well.

    Returns
    -------
    Hotspot
        Row and column in px; `radius_px` of the disc with the area of the saturated (or brightest) core.

    Raises
    ------
    NoHotspot
        Nothing like a lamp's reflection, or it is cut by the frame.
    UnmeasurableLight
        Too dark, or burnt out.
    """
    height, width = luminance.shape
    step = max(1, round(max(height, width) / tuning.OVERVIEW_PX))
    overview = cv2.resize(luminance, (width // step, height // step), interpolation=cv2.INTER_AREA)
    small = np.asarray(cv2.GaussianBlur(overview, (0, 0), tuning.OVERVIEW_BLUR_PX), dtype=np.float32)
    if masked is not None:
        small[_shrunk(masked, small.shape)] = 0.0
    peak = float(np.quantile(small, tuning.PEAK_QUANTILE))
    if peak < tuning.LEAST_PEAK:
        raise UnmeasurableLight(
            f"{name} is too dark: its brightest part reaches {100 * peak:.0f} % of full scale. Retake it "
            "with the lamp's reflection in the frame and more exposure."
        )
    burnt = float((small >= tuning.CORE_LEVEL * peak).mean())
    if peak > tuning.SATURATED and burnt > tuning.MOST_BURNT:
        raise UnmeasurableLight(
            f"{name} is overexposed: {100 * burnt:.0f} % of it is as bright as the lamp. Retake it with less "
            "exposure, or with the lamp farther away."
        )
    core = _brightest_group(small, tuning.CORE_LEVEL * peak)
    contours = [_lit_around(small, level * peak, core) for level in tuning.CONTOUR_LEVELS]
    _check_is_lamp(small, core, peak, name)
    rows, columns = zip(*(np.nonzero(c) for c in contours), strict=True)
    # not `step`: the overview holds a whole number of pixels, whatever the size of the photograph
    down, right = height / small.shape[0], width / small.shape[1]
    area = float(core.mask.sum()) * down * right
    return Hotspot(
        row=float(np.mean([(r.mean() + 0.5) * down - 0.5 for r in rows])),
        column=float(np.mean([(c.mean() + 0.5) * right - 0.5 for c in columns])),
        radius_px=float(np.sqrt(area / np.pi)),
        lamps=core.count,
    )


def _shrunk(mask: NDArray[np.bool_], shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """A mask on a coarser grid: true where any of it falls into the coarse pixel."""
    share = cv2.resize(mask.astype(np.float32), (shape[1], shape[0]), interpolation=cv2.INTER_AREA)
    return np.asarray(share > 0)


@dataclass(frozen=True, slots=True, eq=False)
class _Group:
    mask: NDArray[np.bool_]
    count: int
    blob: NDArray[np.bool_]  # the largest one


def _lit_around(small: NDArray[np.float32], level: float, core: _Group) -> NDArray[np.bool_]:
    """Blobs above a level that hold a part of the core, as paper beside the lamp must not pull the centre."""
    _, labels = cv2.connectedComponents((small >= level).astype(np.uint8))
    return np.isin(labels, np.unique(labels[core.mask]))


def _brightest_group(small: NDArray[np.float32], level: float) -> _Group:
    """Blobs above a level that belong to the one holding most light: near it, and not much smaller."""
    count, labels, stats, centres = cv2.connectedComponentsWithStats((small >= level).astype(np.uint8))
    light = np.bincount(labels.ravel(), weights=small.ravel(), minlength=count)
    light[0] = 0.0
    areas = stats[:, cv2.CC_STAT_AREA].astype(float)
    radii = np.sqrt(areas / np.pi)
    main = int(light.argmax())
    members = {main}
    candidates = [i for i in range(1, count) if i != main and areas[i] >= tuning.CLUSTER_SHARE * areas[main]]
    grown = True
    while grown:  # a ring of LEDs is joined from neighbour to neighbour
        near = [
            i
            for i in candidates
            if i not in members
            and any(
                np.hypot(*(centres[i] - centres[j])) <= tuning.CLUSTER_REACH * (radii[i] + radii[j]) + 2
                for j in members
            )
        ]
        members.update(near)
        grown = bool(near)
    return _Group(np.isin(labels, sorted(members)), len(members), labels == main)


def _check_is_lamp(small: NDArray[np.float32], core: _Group, peak: float, name: str) -> None:
    """Refuse what is cut by the frame, is no compact blob, or does not fall off into a halo."""
    blob = core.blob
    rivals = float((small >= tuning.CORE_LEVEL * peak).sum()) / float(core.mask.sum())
    if rivals <= tuning.MOST_RIVALS and (blob[[0, -1]].any() or blob[:, [0, -1]].any()):
        raise LampCut(
            f"The lamp's reflection in {name} is cut by the frame. Retake it with the whole reflection "
            "inside, near the middle."
        )
    rows, columns = np.nonzero(blob)
    _, enclosing = cv2.minEnclosingCircle(np.column_stack([columns, rows]).astype(np.float32))
    roundness = blob.sum() / (np.pi * (enclosing + 0.5) ** 2)
    distance = cv2.distanceTransform((~core.mask).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_5)
    radius = np.sqrt(core.mask.sum() / np.pi)

    def fallen(radii: float) -> float:
        near, far = (share * radii * radius for share in tuning.FALL_RING)
        ring = (distance > near) & (distance <= far + 1)
        return float(np.median(small[ring])) / peak if ring.any() else 1.0

    beside, aside, far = (fallen(radii) for radii in tuning.FALL_RADII)
    falls = aside <= tuning.LEAST_FALL and (peak > tuning.SATURATED or far <= tuning.MOST_FAR)
    ground = aside * peak
    halo = beside * peak - ground
    paper = ground > tuning.LIT_GROUND and halo < tuning.LEAST_HALO
    if rivals > tuning.MOST_RIVALS or roundness < tuning.LEAST_ROUND or not falls or paper:
        raise NoHotspot(
            f"No reflection of a lamp was found in {name}. Hold one lamp so that its mirror image is in the "
            "frame, shade other lights, switch HDR off, which can turn the reflection grey, and retake it."
        )


def halo_profile(
    back: Background,
    hotspot: Hotspot,
    *,
    rings: int = tuning.HALO_RINGS,
    masked: NDArray[np.bool_] | None = None,
) -> Halo:
    """Median light at each distance from the hotspot.

    Parameters
    ----------
    rings : int
        How many, from the hotspot's middle out to the farthest corner.
    masked : (H, W) bool ndarray, optional
        Not paint: the scale card.

    Returns
    -------
    distance_px, light : (rings,) float64 ndarray
        Ring middles; light is NaN where a ring lies outside the picture.
    """
    away = back.distance_px(hotspot)
    wide = (float(away.max()) + 1) / rings
    which = (away / np.float32(wide)).astype(np.int16)  # short, so that they are sorted by counting
    if masked is not None:
        # a block's light is a median over its neighbours, so theirs has to be paint as well
        reach = np.ones((tuning.BACKGROUND_MEDIAN_BLOCKS, tuning.BACKGROUND_MEDIAN_BLOCKS), np.uint8)
        which[cv2.dilate(_shrunk(masked, which.shape).astype(np.uint8), reach) > 0] = -1
    light = np.full(rings, np.nan)
    order = np.argsort(which.ravel(), kind="stable")
    stops = np.searchsorted(which.ravel()[order], np.arange(rings + 1))
    values = back.blocks.ravel()[order]
    for ring in range(rings):
        inside = values[stops[ring] : stops[ring + 1]]
        if len(inside) >= tuning.RING_LEAST_BLOCKS:
            light[ring] = float(np.median(inside))
    return np.asarray((np.arange(rings) + 0.5) * wide), light


def haze(back: Background, hotspot: Hotspot, *, masked: NDArray[np.bool_] | None = None) -> float:
    """How far the halo reaches: 0 for a mirror, 1 where the light does not fall off at all.

    The halo's median light over its level at the rim is followed outwards, the body colour's light (the
    darkest ring) taken off; haze is a/(1+a), a being the area under that curve between the rim (1.2 radii)
    and 4 radii, divided by the rim's width of 1 radius. A rougher coat spreads the lamp's light farther, so
    each level lies farther out and haze rises; brightening the photograph moves the rim outwards with the
    halo, which mostly cancels. It is a figure for comparing photographs under one lamp, not a gloss unit.

    Parameters
    ----------
    masked : (H, W) bool ndarray, optional
        Not paint: the scale card.

    Returns
    -------
    float
        0..1; 0.0 if the halo leaves the picture before it can be followed.
    """
    distance, light = halo_profile(back, hotspot, rings=tuning.HAZE_RINGS, masked=masked)
    known = np.isfinite(light)
    if known.sum() < tuning.HAZE_LEAST_RINGS:
        return 0.0
    radii = distance[known] / hotspot.radius_px
    level = np.minimum.accumulate(light[known])
    floor = float(level[-1])
    rim = float(np.interp(tuning.HAZE_FROM_RADII, radii, level)) - floor
    if rim <= 0:
        return 0.0
    span = np.linspace(tuning.HAZE_FROM_RADII, tuning.HAZE_TO_RADII, tuning.HAZE_STEPS)
    share = np.clip((np.interp(span, radii, level) - floor) / rim, 0.0, 1.0)
    area = float(np.trapezoid(share, span))
    return area / (1.0 + area)


def other_lights(back: Background, hotspot: Hotspot, halo: Halo) -> list[Hotspot]:
    """Further lamps reflected in the paint: round bright places that the hotspot's own halo does not explain.

    Parameters
    ----------
    hotspot : Hotspot
        The one that is measured with.
    halo : (distance_px, light)
        Its `halo_profile`.

    Returns
    -------
    list of Hotspot
        Usually empty. `radius_px` is that of the disc above half of the brightest excess.
    """
    distance, light = halo
    known = np.isfinite(light)
    away = back.distance_px(hotspot)
    expected = np.interp(away, distance[known], light[known]).astype(np.float32)
    excess = cv2.GaussianBlur(back.blocks - expected, (0, 0), tuning.SECOND_BLUR_BLOCKS)
    excess[away < tuning.SECOND_FROM_RADII * hotspot.radius_px] = 0.0
    peak = float(excess.max())
    ground = float(np.median(back.blocks))
    if peak < max(tuning.LEAST_SECOND, ground):
        return []
    count, _, stats, centres = cv2.connectedComponentsWithStats((excess > peak / 2).astype(np.uint8))
    found = []
    for i in range(1, count):
        _, _, box_width, box_height, area = stats[i]
        radius = float(np.sqrt(area / np.pi)) * back.block_px
        compact = area >= tuning.SECOND_ROUND * max(box_width, box_height) ** 2
        if compact and radius >= tuning.SECOND_LEAST_RADII * hotspot.radius_px:
            column, row = centres[i] * back.block_px + (back.block_px - 1) / 2
            found.append(Hotspot(row=float(row), column=float(column), radius_px=radius, lamps=1))
    return found
