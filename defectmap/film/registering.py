"""Where each measured frame lies on the map, how sure that is, and which frames do not fit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from defectmap.errors import UnmeasurableFilm
from defectmap.film import tuning
from defectmap.film.bundling import Bundle, bundle
from defectmap.film.chaining import chain
from defectmap.film.choosing import Reason
from defectmap.film.coarse import Search
from defectmap.film.framing import MeasuredFrame
from defectmap.film.homography import Homography
from defectmap.film.lines import oriented


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
    spread = tuning.PLACED_BY_HAND_SPREAD if by_hand else tuning.HAND_SPREAD
    placed = chain(lines, shape=shape, searches=_searches(scale, by_hand=by_hand), spread=spread)
    used = sorted(placed)
    least = 2 if by_hand else tuning.FEWEST_FRAMES_USED
    _refuse_few(len(used), least, len(frames), sum(map(len, lines)), name)
    whole = bundle([lines[k] for k in used], [placed[k] for k in used], shape=shape, spread=spread)
    good = _good(whole)
    if sum(good) < len(good) and sum(good) >= least:
        used = [k for k, fits in zip(used, good, strict=True) if fits]
        first = [h for h, fits in zip(whole.to_map, good, strict=True) if fits]
        whole = bundle([lines[k] for k in used], first, shape=shape, spread=spread)
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


def _good(whole: Bundle) -> list[bool]:
    """Frames whose place is sure, and whose lines lie on those of others; the first is the map itself."""
    fits = [
        sure <= tuning.WORST_FRAME_PX and share >= tuning.LEAST_FIT
        for sure, share in zip(whole.sure_px, whole.fit, strict=True)
    ]
    return [True, *fits[1:]]


def _searches(scale: float, *, by_hand: bool) -> tuple[Search, ...]:
    near = Search(reach_px=round(tuning.FILM_REACH_MM * scale), turns_deg=tuning.FILM_TURNS_DEG)
    wide = Search(reach_px=round(tuning.WIDE_REACH_MM * scale), turns_deg=tuning.WIDE_TURNS_DEG)
    return (near, wide, replace(wide, scales=tuning.WIDE_SCALES)) if by_hand else (near,)


def _refuse_few(used: int, least: int, frames: int, points: int, name: str) -> None:
    if used >= least and used >= tuning.LEAST_USED_SHARE * frames:
        return
    if points < tuning.LEAST_POINTS * frames:
        raise UnmeasurableFilm(
            f"{name} shows too few marks to lay its frames on each other. Paint without marks needs no film: "
            "photograph it with the lamp in two or three places."
        )
    raise UnmeasurableFilm(
        f"Only {used} of {frames} frames of {name} lie on one another. Keep one spot in the picture from "
        "beginning to end, hold the phone still, and move the lamp slowly."
    )
