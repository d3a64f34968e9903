"""Which frames to measure: sharp ones with the lamp in view, spread over as many lamp places as there are."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from defectmap.errors import LampCut, NoHotspot, UnmeasurableFilm
from defectmap.film import tuning
from defectmap.film.looking import FilmLook, FrameLook

Reason = Literal["no lamp", "lamp cut", "blurred", "doubled", "lamp place known", "does not fit", "no marks"]


def choose(
    found: FilmLook, *, name: str, by_hand: bool, most: int = tuning.MOST_FRAMES_USED
) -> tuple[list[int], dict[int, Reason]]:
    """Frames to measure, and why each other is left out.

    Parameters
    ----------
    name : str
        Of the film, for refusals.
    by_hand : bool
        Photographs: none counts as blurred or doubled.
    most : int, optional
        Frames to measure.

    Returns
    -------
    chosen : list of int
        Numbers of frames, rising.
    left_out : dict
        Reason for each other frame that was looked at.

    Raises
    ------
    NoHotspot
        Hardly any frame shows the lamp's reflection.
    UnmeasurableFilm
        A screen was recorded, the lamp does not move, or hardly a frame is sharp.
    """
    _refuse_still(np.array([frame.lamp for frame in found.frames if frame.lamp]), name)
    _refuse_screen(found, name)
    left_out: dict[int, Reason] = {}
    detail = np.array([f.detail for f in found.frames])
    usable = []
    for place, frame in enumerate(found.frames):
        reason = _reason(frame, place, detail, by_hand=by_hand)
        if reason is None:
            usable.append(frame)
        else:
            left_out[frame.number] = reason
    _refuse_few(usable, left_out, name, by_hand=by_hand)
    places = np.array([frame.lamp for frame in usable])
    picked = spread_out(places[:, :2], most)
    left_out |= {usable[k].number: "lamp place known" for k in set(range(len(usable))) - set(picked)}
    return sorted(usable[k].number for k in picked), left_out


def _reason(frame: FrameLook, place: int, detail: NDArray[np.float64], *, by_hand: bool) -> Reason | None:
    if frame.lamp is None:
        return "lamp cut" if frame.cut else "no lamp"
    if not by_hand and frame.changed < tuning.DOUBLED_CODES:
        return "doubled"
    around = detail[max(0, place - tuning.DETAIL_NEIGHBOURS) : place + tuning.DETAIL_NEIGHBOURS + 1]
    if not by_hand and frame.detail < tuning.BLURRED_SHARE * float(np.median(around)):
        return "blurred"
    return None


def spread_out(places: NDArray[np.float64], most: int) -> list[int]:
    """Pick places so that each next one is as far as can be from all picked before, beginning with the first.

    Parameters
    ----------
    places : (N, 2) float64 ndarray

    Returns
    -------
    list of int
        Rising.

    Examples
    --------
    >>> spread_out(np.array([[0.0, 0], [1, 0], [9, 0], [10, 0]]), 3)
    [0, 1, 3]
    """
    if len(places) <= most:
        return list(range(len(places)))
    picked = [0]
    away = np.hypot(*(places - places[0]).T)
    while len(picked) < most:
        picked.append(int(away.argmax()))
        away = np.minimum(away, np.hypot(*(places - places[picked[-1]]).T))
    return sorted(picked)


def _refuse_screen(found: FilmLook, name: str) -> None:
    if found.static_share > tuning.STATIC_SHARE:
        raise UnmeasurableFilm(
            f"{name} looks like the recording of a screen: signs in it stand still while the rest moves. "
            "Send the film that the camera itself wrote."
        )


def _refuse_few(
    usable: Sequence[FrameLook], left_out: dict[int, Reason], name: str, *, by_hand: bool
) -> None:
    least = 2 if by_hand else tuning.FEWEST_FRAMES_USED
    if len(usable) >= least:
        return
    reasons = list(left_out.values())
    unlit, cut = reasons.count("no lamp"), reasons.count("lamp cut")
    if cut > unlit:
        raise LampCut(
            f"The lamp's reflection is whole in only {len(usable)} of the frames of {name}; the picture's "
            "edge cuts it. Hold the lamp so that its whole reflection stays in the picture."
        )
    if unlit > len(left_out) / 2 or by_hand:
        raise NoHotspot(
            f"The lamp's reflection is in only {len(usable)} of the frames of {name}. Film again with the "
            "whole reflection in the picture all the time, and shade other lights."
        )
    raise UnmeasurableFilm(
        f"Only {len(usable)} of the frames of {name} are sharp and different. Hold the phone in both hands, "
        "rest your elbows, move the lamp slowly, and film 10 seconds."
    )


def _refuse_still(places: NDArray[np.float64], name: str) -> None:
    if len(places) < 2:
        return
    middle = np.median(places[:, :2], axis=0)
    reach = float(np.quantile(np.hypot(*(places[:, :2] - middle).T), tuning.STILL_QUANTILE))
    if reach < tuning.STILL_LAMP_RADII * float(np.median(places[:, 2])):
        raise UnmeasurableFilm(
            f"The lamp hardly moves in {name}: such a film shows no more than one photograph. Sweep the lamp "
            "slowly over the whole picture, to and fro, and hold the phone still."
        )
