"""Where each measured frame lies on the map, how sure that is, and which frames do not fit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from defectmap.errors import UnmeasurableFilm
from defectmap.film import tuning
from defectmap.film.bundling import Bundle, bundle
from defectmap.film.chaining import Layer, told_from_first
from defectmap.film.choosing import Reason
from defectmap.film.coarse import Search
from defectmap.film.confirming import confirmed
from defectmap.film.framing import MeasuredFrame
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
    left_out: dict[int, Reason] = {
        frame.number: "does not fit" if len(lines[k]) >= tuning.LEAST_POINTS else "no marks"
        for k, frame in enumerate(frames)
        if k not in used
    }
    return Registered(
        frames=[frames[k] for k in used],
        to_map=whole.to_map,
        sure_px=whole.sure_px,
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
    while True:
        to_map, whole = _together(layer, told_from_first(to_map), film=film)
        sure = confirmed([layer.frames[k] for k in to_map], whole.to_map, film=film)
        good = [fits and held <= tuning.HELD_PX for fits, held in zip(sure, whole.held_px, strict=True)]
        if all(good) or not any(good):
            return list(to_map) if any(good) else [], whole
        to_map = {k: h for (k, h), fits in zip(to_map.items(), good, strict=True) if fits}


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
