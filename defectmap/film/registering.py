"""Where each measured frame lies on the map, how sure that is, and which frames do not fit."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from defectmap.errors import UnmeasurableFilm
from defectmap.film import tuning
from defectmap.film.bundling import Bundle, bundle
from defectmap.film.chaining import Layer, told_from_first, told_in
from defectmap.film.choosing import Reason
from defectmap.film.coarse import Search
from defectmap.film.confirming import confirmed
from defectmap.film.framing import MeasuredFrame
from defectmap.film.growing import first_frame, grown
from defectmap.film.homography import Homography
from defectmap.film.lines import OrientedPoints, oriented


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Registered:
    """Frames that fit, laid on the map; the map is the first of them."""

    frames: list[MeasuredFrame]
    to_map: list[Homography]
    sure_px: list[float]  # one standard deviation
    aside_px: float  # between two frames' images of one line, median
    left_out: dict[int, Reason]

    def without(self, number: int) -> Registered:
        """The same map without a frame that only served to place the others."""
        kept = [k for k, frame in enumerate(self.frames) if frame.number != number]
        return replace(
            self,
            frames=[self.frames[k] for k in kept],
            to_map=[self.to_map[k] for k in kept],
            sure_px=[self.sure_px[k] for k in kept],
        )


def register(
    frames: Sequence[MeasuredFrame], *, shape: tuple[int, int], scale: float, by_hand: bool, name: str
) -> Registered:
    """Lay frames on each other by the lines they share.

    Parameters
    ----------
    frames : sequence of MeasuredFrame
        In order.
    shape : (int, int)
        Of a frame.
    scale : float
        Pixels a millimetre.
    by_hand : bool
        Whether each was placed anew, as photographs are.
    name : str
        Of the film, for the refusal.

    Raises
    ------
    UnmeasurableFilm
        Too few frames share lines.
    """
    lines = [oriented([mark.points for mark in frame.marks]) for frame in frames]
    layer = Layer(
        frames=lines,
        shape=shape,
        searches=_searches(scale, by_hand=by_hand),
        spread=tuning.PLACED_BY_HAND_SPREAD if by_hand else tuning.HAND_SPREAD,
    )
    used, whole = _held(layer, film=not by_hand)
    _refuse_few(len(used), 2 if by_hand else tuning.FEWEST_FRAMES_USED, lines, name)
    first = None
    if used[0] != 0 and not by_hand:
        first = first_frame(layer, dict(zip(used, whole.to_map, strict=True)), lambda p: _told(layer, p))
    left_out: dict[int, Reason] = {
        frame.number: "does not fit" if len(lines[k]) >= tuning.LEAST_POINTS else "no marks"
        for k, frame in enumerate(frames)
        if k not in used
    }
    return Registered(
        frames=[frames[k] for k in used],
        to_map=told_in(first.place, whole.to_map) if first else whole.to_map,
        sure_px=[math.hypot(own, first.unsure_px) for own in whole.sure_px] if first else whole.sure_px,
        aside_px=whole.aside_px,
        left_out=left_out,
    )


def _held(layer: Layer, *, film: bool) -> tuple[list[int], Bundle]:
    """Frames whose place is sure, moved together; the others are left out, never forced."""
    chain = layer.chain()
    to_map = chain.to_map
    if chain.doubtful:
        to_map = _together(layer, to_map, film=film)[0]
        for number in sorted(chain.doubtful):
            place, clear = layer.place(number, to_map, most=tuning.CHECK_FRAMES)
            del to_map[number]
            if place is not None and clear:
                to_map[number] = place
    to_map, whole = _settled(layer, to_map, film=film)
    if film and to_map and len(to_map) < len(layer.frames):
        more = grown(
            layer, to_map, lambda placed: _settled(layer, placed, film=film)[0], lambda p: _told(layer, p)
        )
        if len(more) > len(to_map):
            to_map, whole = _settled(layer, more, film=film)
    return list(to_map), whole


def _settled(
    layer: Layer, to_map: dict[int, Homography], *, film: bool
) -> tuple[dict[int, Homography], Bundle]:
    """Frames moved together, as often as some are found not to be sure and left out."""
    while True:
        to_map, whole = _together(layer, told_from_first(to_map), film=film)
        sure = confirmed([layer.frames[k] for k in to_map], whole.to_map, film=film)
        good = [fits and held <= tuning.HELD_PX for fits, held in zip(sure, whole.held_px, strict=True)]
        if all(good) or not any(good):
            return to_map if any(good) else {}, whole
        bad = [(bool(fits), -held, k) for k, fits, held in zip(to_map, sure, whole.held_px, strict=True)]
        bad = sorted(one for one, fits in zip(bad, good, strict=True) if not fits)
        # a few at a time: what is held by a bad frame alone may be held by others once that is gone
        worst = {k for _, _, k in bad[: math.ceil(len(bad) * tuning.LEFT_AT_ONCE)]}
        to_map = {k: h for k, h in to_map.items() if k not in worst}


def _together(
    layer: Layer, placed: Mapping[int, Homography], *, film: bool
) -> tuple[dict[int, Homography], Bundle]:
    """All frames moved until their lines meet best."""
    used = sorted(placed)
    whole = bundle(
        [layer.frames[k] for k in used],
        [placed[k] for k in used],
        shape=layer.shape,
        spread=layer.spread,
        times=used if film else None,
    )
    return dict(zip(used, whole.to_map, strict=True)), whole


def _told(layer: Layer, placed: dict[int, Homography]) -> tuple[dict[int, Homography], dict[int, float]]:
    """Frames of a film moved together, in pixels of the first, and how sure each is there."""
    to_map, whole = _together(layer, told_from_first(placed), film=True)
    return to_map, dict(zip(to_map, whole.sure_px, strict=True))


def _searches(scale: float, *, by_hand: bool) -> tuple[Search, ...]:
    near = Search(
        reach_px=round(tuning.FILM_REACH_MM * scale),
        turns_deg=tuning.FILM_TURNS_DEG,
        step_px=tuning.FILM_STEP_MM * scale,
    )
    fast = replace(
        near,
        reach_px=round(tuning.FAST_REACH_MM * scale),
        turns_deg=tuning.FAST_TURNS_DEG,
        cell_px=tuning.WIDE_COARSE_PX,
    )
    wide = Search(reach_px=round(tuning.WIDE_REACH_MM * scale), turns_deg=tuning.WIDE_TURNS_DEG)
    return (near, wide, replace(wide, scales=tuning.WIDE_SCALES)) if by_hand else (near, fast)


def _refuse_few(used: int, least: int, lines: Sequence[OrientedPoints], name: str) -> None:
    if used >= least and used >= tuning.LEAST_USED_SHARE * len(lines):
        return
    if not lines or np.median([len(own) for own in lines]) < tuning.ENOUGH_POINTS:
        raise UnmeasurableFilm(
            f"{name} shows too few marks to lay its frames on each other. Paint without marks needs no film: "
            "photograph it with the lamp in two or three places."
        )
    raise UnmeasurableFilm(
        f"Only {used} of {len(lines)} frames of {name} lie on one another. Keep one spot in the picture from "
        "beginning to end, hold the phone still, and move the lamp slowly."
    )
