"""What the live camera says: one short thing to do at a time, by code."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from defectmap.words.sentence_tables import words_table

Way = Literal["still", "frame", "app", "film"]

LIVE_WORDS = words_table("live camera")
TAKE, TAKE_ANYWAY = "Take it", "Take it anyway"
OVERLAY = "Photograph before, faintly"
OWN_APP = "Use the phone's own camera"
FILM_WORDS: Mapping[str, str] = {
    "start": "Film the sweep",
    "stop": "Stop",
    "doing": "Hold the phone still; move the lamp slowly over all of it, until nothing is dark",
}
FILM_ELSEWHERE = (
    "A film may also come from the phone's own camera: hold the phone still, move the lamp, and give it on "
    "the page Photographs."
)
HOLDING, SENDING = "Hold still …", "Handing the picture over …"
UNREADABLE = "The picture could not be read; take it again."
WITHOUT: Mapping[str, str] = {
    "insecure": "This browser gives its camera only to https pages. The phone's own camera works.",
    "refused": "The browser was not allowed to use the camera: allow it in the address bar, then reload.",
    "none": "No camera was found here.",
}


def way_words(way: Way, width_px: int, height_px: int) -> str:
    """How the picture was taken, so that nobody takes a frame of the film for a photograph.

    Examples
    --------
    >>> way_words("still", 4032, 3024)
    'Full photograph, 4032 × 3024 px'
    >>> way_words("frame", 1920, 1080)
    'Best frame of the live picture, 1920 × 1080 px: this browser gives no full photograph'
    """
    if way == "film":
        return "A film; it is measured as soon as nothing else is"
    size = f"{width_px} × {height_px} px"
    if way == "frame":
        return f"Best frame of the live picture, {size}: this browser gives no full photograph"
    return f"Full photograph, {size}" if way == "still" else f"From the phone's own camera, {size}"


def too_large(megabytes: int) -> str:
    """That a picture does not go through."""
    return f"The picture has more than {megabytes} MB: give it on the page Photographs instead."
