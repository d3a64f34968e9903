"""Warnings and refusals that rest on the whole measurement: focus, exposure, where the hotspot sits."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from defectmap.errors import NoHotspot, UnmeasurableLight
from defectmap.panel import tuning
from defectmap.panel.background import Background
from defectmap.panel.marks import Findings
from defectmap.panel.measurement import Hotspot
from defectmap.panel.pattern import repeating_share
from defectmap.words.photo_words import told
from defectmap.words.remark import Remark


def refuse_no_panel(found: Findings, *, name: str) -> None:
    """Refuse what is no paint under a lamp: its bright lines run in every direction.

    Raises
    ------
    NoHotspot
        Many lines, most of which no lamp here could light.
    """
    share = found.round_share
    crowded = found.texture_px > tuning.MOST_TEXTURE * np.count_nonzero(found.zone)
    if crowded or (share is not None and share < tuning.LEAST_ROUND_SHARE):
        raise NoHotspot(told(Remark(code="no-panel", values={"name": name})))


def refuse_pattern(luminance: NDArray[np.float32], lit: NDArray[np.bool_], *, name: str) -> None:
    """Refuse cloth, print and screens.

    Raises
    ------
    NoHotspot
        The picture repeats itself.
    """
    if repeating_share(luminance, lit) > tuning.MOST_REPEATING:
        raise NoHotspot(told(Remark(code="repeating", values={"name": name})))


def refuse_no_zone(
    found: Findings, lit: NDArray[np.bool_], back: Background, *, scale: float, gain: float, name: str
) -> None:
    """Refuse a photograph that could not show a standard mark anywhere to speak of.

    Raises
    ------
    UnmeasurableLight
        With the reason that weighs most.
    """
    if np.count_nonzero(found.zone) < tuning.LEAST_ZONE * found.zone.size:
        cause = zone_cause(found, lit, back, scale=scale, gain=gain)
        raise UnmeasurableLight(told(Remark(code="no-zone", values={"name": name, "cause": cause})))


def zone_cause(
    found: Findings, lit: NDArray[np.bool_], back: Background, *, scale: float, gain: float
) -> str:
    """What keeps most of the picture from being counted: a key of `words.photo_words.CAUSES`."""
    counted, open_ = back.of_blocks(found.zone), back.of_blocks(lit)
    hidden = open_ & ~counted
    if not hidden.any() or (~open_).sum() > hidden.sum():
        return "bright"
    if (
        scale < tuning.FAR_PX_PER_MM
        and np.median(found.faintest.blocks[hidden]) * scale / tuning.TYPICAL_PX_PER_MM < tuning.ZONE_UM
    ):
        return "far"
    if np.median(back.blocks[hidden]) < tuning.DARK_PAINT and gain < tuning.LOW_GAIN:
        return "dark"
    return "sparkle" if np.median(found.grain.blocks[hidden]) > tuning.ROUGH_GRAIN else "noisy"


def cautions(
    found: Findings, lit: NDArray[np.bool_], hotspot: Hotspot, back: Background, *, scale: float, gain: float
) -> list[Remark]:
    """One remark for each thing that makes the figures less sure.

    Parameters
    ----------
    found, lit, hotspot, back
        Of the measurement.
    scale : float
        Pixels a millimetre, a typical figure where it is unknown.
    gain : float
        See `noise.noise_gain`.
    """
    said = []
    peak = float(back.blocks.max())
    if peak < tuning.SATURATED:
        said.append(Remark(code="underexposed", values={"peak": peak}))
    height, wide = found.zone.shape
    share = np.count_nonzero(found.zone) / found.zone.size
    cause = zone_cause(found, lit, back, scale=scale, gain=gain)
    inside = back.of_blocks(found.zone)
    faintest = float(np.median(found.faintest.blocks[inside])) if inside.any() else 0.0
    if share < tuning.SMALL_ZONE:
        said.append(Remark(code="small-zone", values={"share": share, "cause": cause}))
    elif faintest > tuning.STANDARD_UM:
        cause = "sparkle" if np.median(found.grain.blocks[inside]) > tuning.ROUGH_GRAIN else "noisy"
        said.append(
            Remark(code="noisy", values={"um": faintest, "standard_um": tuning.STANDARD_UM, "cause": cause})
        )
    aside = np.hypot(hotspot.row - height / 2, hotspot.column - wide / 2) / min(height, wide)
    if aside > tuning.OFF_CENTRE:
        said.append(Remark(code="off-centre"))
    if found.lamps > 1 or hotspot.lamps == 2:  # a cluster of LEDs has more
        said.append(Remark(code="second-lamp"))
    if found.round_share is not None and found.round_share < tuning.ROUND_SHARE:
        said.append(Remark(code="lines-not-round-the-lamp"))
    if grain_slope(found, back) < tuning.LIFTED_SLOPE:
        said.append(Remark(code="shadows-lifted"))
    if found.texture_px:
        left_out = {
            "area_cm2": found.texture_px / scale**2 / 100,
            "share": found.texture_px / found.zone.size,
        }
        said.append(Remark(code="texture-left-out", values=left_out))
    return said


def grain_slope(found: Findings, back: Background) -> float:
    """Slope of ln(grain, over that of a sensor) against ln(light) in the zone; 0 where too little shows.

    A sensor's grain over its own model is level (photon transfer, EMVA Standard 1288); compression and noise
    reduction take more of it in the dark, where codes are coarse, so the slope is 0 and above. Local tone
    mapping multiplies dark places and their grain alike, so it falls.
    """
    inside = back.of_blocks(found.zone)
    light, grain = (np.log(np.maximum(one.blocks[inside], 1e-6)) for one in (back, found.grain))
    classes = np.floor(light / tuning.SLOPE_CLASS).astype(int)
    kinds, sizes = np.unique(classes, return_counts=True)
    kept = [one for one, size in zip(kinds, sizes, strict=True) if size >= tuning.SLOPE_LEAST_BLOCKS]
    if len(kept) < tuning.SLOPE_LEAST_CLASSES:
        return 0.0
    at = np.array([(np.median(light[classes == one]), np.median(grain[classes == one])) for one in kept])
    return float(np.polyfit(at[:, 0], at[:, 1], 1, w=[np.sqrt((classes == one).sum()) for one in kept])[0])
