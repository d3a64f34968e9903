"""Frames that the chain could not lay are held against all that are laid; the first one at any rate.

A chain sees a frame's neighbours in time only, and of few marks those share hardly any. Once the body of the
film lies, a frame meets all its lines.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from defectmap.film import tuning
from defectmap.film.chaining import Layer
from defectmap.film.homography import Homography
from defectmap.film.wandering import Bundled, laid_along

Settle = Callable[[dict[int, Homography]], dict[int, Homography]]  # moved together, unsure ones left out


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FirstFrame:
    """Where the file's first frame lies on the others."""

    place: Homography  # to the map of the others
    unsure_px: float  # one standard deviation


def grown(
    layer: Layer, placed: dict[int, Homography], settle: Settle, bundled: Bundled
) -> dict[int, Homography]:
    """Lay frames left out on all that lie, as long as that helps any.

    Parameters
    ----------
    placed : dict
        Where frames lie.
    settle : callable
        Moves frames together and leaves out those that are not sure.
    bundled : callable
        Moves frames together, told in pixels of the first.
    """
    for _ in range(tuning.GROWING_ROUNDS):
        added = dict(placed)
        left = [number for number in range(len(layer.frames)) if number not in placed]
        for number in sorted(left, key=lambda n: min(abs(n - other) for other in placed)):
            place, clear = layer.place(number, placed, most=len(placed))
            if place is not None and clear:
                added[number] = place
        if len(added) == len(placed):
            break
        tried = settle(added)
        if len(tried) <= len(placed):
            break
        placed = tried
    along = laid_along(layer, placed, bundled)
    if len(along) > len(placed):
        tried = settle(along)
        return tried if len(tried) > len(placed) else placed
    return placed


def first_frame(layer: Layer, placed: Mapping[int, Homography], bundled: Bundled) -> FirstFrame | None:
    """Place the first frame by what evidence there is; None where the paint says that it shows another place.

    The frames between it and the body of the film lead there, each laid on all before it where it is
    likeliest; none of their marks is counted: what they are for is that everything is told in pixels of the
    first frame.

    Parameters
    ----------
    placed : mapping
        Where the body of the film lies.
    bundled : callable
        Moves all frames together, told in pixels of the first, and says how sure each is.
    """
    near = min(placed)
    added = laid_along(layer, placed, bundled)
    for number in range(near - 1, -1, -1):
        place, _ = (None, False) if number in added else layer.place(number, added, most=len(added))
        if place is not None:
            added[number] = place
    if 0 in added:
        told, sure_px = bundled(added)
        return FirstFrame(place=placed[near] @ np.linalg.inv(told[near]), unsure_px=sure_px[near])
    if len(layer.frames[0]) < tuning.POINTS_TO_CONTRADICT:
        by_hand_px = layer.searches[0].step_px * math.sqrt(min(added))
        return FirstFrame(place=np.array(added[min(added)]), unsure_px=by_hand_px)
    return None
