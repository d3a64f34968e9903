"""Where marks count: set by light, noise and texture, so that clean and swirled paint get the same zone."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from defectmap.panel import tuning
from defectmap.panel.background import Background
from defectmap.panel.measurement import Hotspot


def lit_zone(
    back: Background, hotspot: Hotspot, *, masked: NDArray[np.bool_] | None = None
) -> NDArray[np.bool_]:
    """Where the light leaves room for a mark: beyond the lamp's core, and not too bright.

    Parameters
    ----------
    back : Background
        Light without marks.
    masked : (H, W) bool ndarray, optional
        Never part of the zone: scale card, panel gaps, tape.

    Returns
    -------
    (H, W) bool ndarray
    """
    distance = back.distance_px(hotspot)
    margin = distance - np.float32(hotspot.radius_px + tuning.CORE_MARGIN_PX)
    room = np.float32(tuning.BRIGHTEST_SURROUND) - back.blocks
    # interpolated as one signed quantity in shares of full scale, so that the outline does not follow the
    # blocks
    share = np.minimum(room, margin / np.float32(hotspot.radius_px))
    full = cv2.resize(share, (back.shape[1], back.shape[0]), interpolation=cv2.INTER_LINEAR)
    inside: NDArray[np.bool_] = np.greater(full, 0)
    inside[: tuning.BORDER_PX] = inside[-tuning.BORDER_PX :] = False
    inside[:, : tuning.BORDER_PX] = inside[:, -tuning.BORDER_PX :] = False
    if masked is not None:
        inside &= ~masked
    return inside


def able(lit: NDArray[np.bool_], faintest: Background, *, um: float = tuning.ZONE_UM) -> NDArray[np.bool_]:
    """The part of a lit zone in which a mark of a given equivalent width shows.

    Parameters
    ----------
    lit : (H, W) bool ndarray
        `lit_zone`.
    faintest : Background
        `detection_limit.faintest_um`.
    um : float
        Unless said otherwise, `tuning.ZONE_UM`.

    Returns
    -------
    (H, W) bool ndarray
    """
    # the logarithm is nearly linear between blocks, so that the outline does not follow them
    blocks = np.log(faintest.blocks / np.float32(um))
    if float(blocks.max()) <= 0:
        return lit
    full = cv2.resize(blocks, (faintest.shape[1], faintest.shape[0]), interpolation=cv2.INTER_LINEAR)
    return np.asarray(lit & (full <= 0))
