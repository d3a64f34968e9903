"""The live camera: the photograph before as a faint overlay, one word on what to do, and the shutter.

The words are worked out in the browser (`browser/lookout.js`); nothing of the live picture leaves the phone.
A full photograph is asked for (W3C MediaStream Image Capture, `takePhoto`); where a browser has none, the
sharpest of some frames is taken, and the picture says so. The phone's own camera stays beside it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from defectmap.pages.browser import component, decoded, keeper, taken_up
from defectmap.pages.images import data_uri
from defectmap.trade.tuning import LARGEST_HOTSPOT, OFF_CENTRE, RADIUS_APART, SMALLEST_HOTSPOT
from defectmap.words.camera_words import (
    FILM_WORDS,
    HOLDING,
    LIVE_WORDS,
    OVERLAY,
    OWN_APP,
    SENDING,
    TAKE,
    TAKE_ANYWAY,
    UNREADABLE,
    WITHOUT,
    Way,
    too_large,
)

MOST_MEGABYTES = 15  # it travels as one message, a third larger: 16 MB went through, 22 MB did not
SHORTER_SIDE = 0.75  # of the width of a 4:3 picture: the coach's limits are shares of the shorter side
# Shares of the picture's width. Our own choice (no source): inside what a comparison bears with, and as fine
# as the small picture that the browser looks at can tell.
LIMITS: Mapping[str, float] = {
    "clipped": 0.2,  # of the picture burnt out
    "motion": 0.012,  # of the reflection from one look to the next, a tenth of a second
    "place": 0.06,
    "zoom": 1.1,
    "size": RADIUS_APART,
    "off_centre": OFF_CENTRE * SHORTER_SIDE,
    "smallest": SMALLEST_HOTSPOT * SHORTER_SIDE,
    "largest": LARGEST_HOTSPOT * SHORTER_SIDE,
}
WAYS: Mapping[str, Way] = {"still": "still", "frame": "frame", "app": "app", "film": "film"}
FILM_S = 12  # enough to sweep one spot slowly; at this rate it fits into one message
FILM_BITS = 9_000_000  # a second


@dataclass(frozen=True, slots=True)
class CameraShot:
    """A picture just taken: how, and which place it was aimed at when the shutter was pressed."""

    name: str
    content: bytes
    way: Way = "app"
    number: str = ""  # differs from shot to shot, so that none is kept twice
    aim: str = ""

    def getvalue(self) -> bytes:
        """Its bytes, as an uploaded file gives them."""
        return self.content


def live_camera(before: bytes | None, *, aim: str, said: str, key: str) -> CameraShot | None:
    """Draw the camera; the picture is there in the one run after it was taken.

    Parameters
    ----------
    before : bytes or None
        JPEG of the photograph before of this spot.
    aim : str
        Which place is photographed; comes back with the shot.
    said : str
        What to say below it.
    key : str
        Of the widget; it stays the same from spot to spot, so that the camera stays on.
    """
    component("livecamera", scripts=("lookout.js", "sweep.js"))(
        data={
            "before": None if before is None else data_uri(before),
            "aim": aim,
            "said": said,
            "words": dict(LIVE_WORDS),
            "limits": dict(LIMITS),
            "take": TAKE,
            "take_anyway": TAKE_ANYWAY,
            "ghost_words": OVERLAY,
            "own": OWN_APP,
            "holding": HOLDING,
            "film_words": dict(FILM_WORDS),
            "film_s": FILM_S,
            "film_bits": FILM_BITS,
            "sending": SENDING,
            "unreadable": UNREADABLE,
            "too_large": too_large(MOST_MEGABYTES),
            "without": dict(WITHOUT),
            "most_bytes": MOST_MEGABYTES * 1_000_000,
        },
        key=key,
        on_shot_change=keeper(key, "shot"),
    )
    return shot_from(taken_up(key, "shot"))


def shot_from(given: object) -> CameraShot | None:
    """What a browser hands over, checked for its shape; None where it is no picture file at all.

    Examples
    --------
    >>> shot_from({"name": "a.jpg", "content": "aGVsbG8=", "way": "still"})
    CameraShot(name='a.jpg', content=b'hello', way='still', number='', aim='')
    >>> shot_from({"name": "a.jpg", "content": "not base64!"}) is None
    True
    """
    picture = decoded(given, "content")
    if not isinstance(given, Mapping) or picture is None or not isinstance(given.get("name"), str):
        return None
    return CameraShot(
        name=given["name"],
        content=picture,
        way=WAYS.get(_words(given, "way"), "app"),
        number=_words(given, "number"),
        aim=_words(given, "aim"),
    )


def _words(given: Mapping[Any, Any], what: str) -> str:
    value = given.get(what, "")
    return value if isinstance(value, str) else ""
