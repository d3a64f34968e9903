"""What the capture coach says (`trade/coach.py`): a sentence a code, places in a picture, verdicts."""

from __future__ import annotations

from collections.abc import Mapping

from defectmap.words.photo_words import WARNINGS
from defectmap.words.remark import Remark, Table, sentence

PLACES: Table = {
    "at upper left": "upper left",
    "at upper right": "upper right",
    "at lower left": "lower left",
    "at lower right": "lower right",
    "at left": "the left",
    "at right": "the right",
    "at upper": "the top",
    "at lower": "the bottom",
    "at middle": "the middle",
}

SIDES: Table = {  # where the lamp should go as well, seen from a blind place
    "lamp left": "to the left of it",
    "lamp right": "to the right of it",
    "lamp above": "above it",
    "lamp below": "below it",
    "lamp upper left": "above it and to the left",
    "lamp upper right": "above it and to the right",
    "lamp lower left": "below it and to the left",
    "lamp lower right": "below it and to the right",
}

COACH: Table = {
    **PLACES,
    **SIDES,
    "refused": "{words}",  # the refusal itself says what to do
    "hotspot good": "The lamp's reflection has a good place and size.",
    "hotspot in": "The lamp's reflection lies in {place}. Move the phone until it is in the middle.",
    "hotspot away": "The lamp's reflection lies away from the middle. Move the phone until it is in the "
    "middle.",
    "hotspot large": "The reflection fills {size:.0%} of the picture's height. Move the lamp farther away, "
    "or lower the exposure.",
    "hotspot small": "The reflection is only {size:.0%} of the picture's height. Go closer, or bring the "
    "lamp closer.",
    "lamps together": "{lamps} reflections stand together; they count as one lamp.",
    "zone good": "Marks can be counted in {share:.0%} of the picture.",
    "zone small": "Marks can be counted in only {share:.0%} of the picture: the rest is too dark or burnt "
    "out. Tap on the paint beside the reflection, lock the exposure, and take it again.",
    "focus good": "Sharp: the marks are {width_px:.1f} px wide.",
    "focus soft": "The marks are {width_px:.1f} px wide, which is soft. Tap on the paint to focus, hold "
    "still, and take it again.",
    "focus unknown": "Too few marks to judge the focus by: look whether dust or an edge is crisp.",
    "scale good": "Scale known: {px_per_mm:.1f} pixels for a millimetre.",
    "scale none": "No scale: lengths are in pixels (uncalibrated). Lay the printed card beside the spot, or "
    "type how wide the picture is.",
    "scale tilted": "The card is tilted by {tilt_deg:.0f}°. Hold the phone square to the panel.",
    "merged": WARNINGS["merged"],
    "match good": "Light and distance match the earlier photograph of this spot.",
    "taken farther away before": "The earlier photograph was taken from farther away. Keep the same "
    "distance.",
    "taken closer before": "The earlier photograph was taken from closer. Keep the same distance.",
    "hotspot larger": "The reflection is {times:.1f} times larger than in the earlier photograph. Use the "
    "same lamp at the same distance and exposure.",
    "hotspot smaller": "The reflection is {times:.1f} times smaller than in the earlier photograph. Use the "
    "same lamp at the same distance and exposure.",
    "more exposure": "This photograph has {stops:.1f} stops more exposure than the earlier one.",
    "less exposure": "This photograph has {stops:.1f} stops less exposure than the earlier one.",
    "filmed before": "This spot was filmed before. A photograph cannot be compared with a film: film it "
    "again.",
    "photographed before": "This spot was photographed before. A film cannot be compared with a photograph: "
    "take one as well.",
    "sweep shows": "The sweep could show {percent:.0f} % of all directions.",
    "sweep unknown": "The sweep could show an unknown share of directions.",
    "blind": "Blind spot {place}: only {percent:.0f} % of directions showed. Next time move the lamp "
    "{side}, too.",
    "shaken": "{shaken} of {frames} frames are shaken. Hold still, move only the lamp.",
    "frames count": "{used} lamp places out of {frames} frames count.",
    "all good": "All photographs are good to use.",
    "some again": "{again} to take again, of {all}; look below before the car moves.",
    "some better": "{better} usable that could be better, of {all}; look below before the car moves.",
    "some of both": "{again} to take again and {better} usable that could be better, of {all}; look below "
    "before the car moves.",
}
VERDICTS: Mapping[str, str] = {
    "good": "Good to use",
    "better": "Usable, could be better",
    "again": "Take it again",
}


def coached(remark: Remark) -> str:
    """The sentence of what the coach found.

    Examples
    --------
    >>> coached(Remark(code="shaken", values={"shaken": 40, "frames": 90}))
    '40 of 90 frames are shaken. Hold still, move only the lamp.'
    """
    return sentence(remark, COACH)


def place(x_share: float, y_share: float) -> Remark:
    """Where in a picture something lies, from its shares of width and height.

    Examples
    --------
    >>> [coached(place(x, y)) for x, y in ((0.2, 0.9), (0.5, 0.5), (0.9, 0.5))]
    ['lower left', 'the middle', 'the right']
    """
    down = "upper" if y_share < 1 / 3 else "lower" if y_share > 2 / 3 else ""
    along = "left" if x_share < 1 / 3 else "right" if x_share > 2 / 3 else ""
    return Remark(code=f"at {' '.join(filter(None, (down, along))) or 'middle'}")
