"""The capture coach: what to do better in a photograph, while the car still stands there.

It reads the record of a measured photograph (`measure --json`), and that of an earlier photograph of the same
spot where there is one, as only like can be compared with like later. The limits are our own choice, tried on
rendered photographs (common practice, no source).
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from defectmap.words.film_words import blind_words, frames_words, share_words
from defectmap.words.photo_words import told
from defectmap.words.remark import Remark

Level = Literal["good", "better", "again"]
Topic = Literal["light", "hotspot", "exposure", "focus", "scale", "match", "file"]
OFF_CENTRE = 0.22  # of the shorter side
SMALLEST_HOTSPOT, LARGEST_HOTSPOT = 0.025, 0.16  # radius over the shorter side
LEAST_ZONE_SHARE = 0.35  # of the picture in which marks can be counted
SOFT_MARK_PX = 4.0  # median width; sharp photographs of fine marks show about 2
FEWEST_FOR_FOCUS = 8
MOST_TILT_DEG = 20.0
MOST_BLIND, MOST_SHAKEN = 2, 0.3  # places told at once; share of the frames
FILMED_BEFORE = "This spot was filmed before. A photograph cannot be compared with a film: film it again."
PHOTOGRAPHED_BEFORE = (
    "This spot was photographed before. A film cannot be compared with a photograph: take one as well."
)
RADIUS_APART, SCALE_APART, STOPS_APART = 1.15, 1.25, 0.7


@dataclass(frozen=True, slots=True, kw_only=True)
class Hint:
    """One thing about a photograph; `better` and `again` say what to do."""

    topic: Topic
    level: Level
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Coaching:
    """Everything the coach says of one photograph."""

    remarks: tuple[Hint, ...]

    @property
    def level(self) -> Level:
        """The worst of all remarks."""
        said = {remark.level for remark in self.remarks}
        return "again" if "again" in said else "better" if "better" in said else "good"

    @property
    def verdict(self) -> str:
        """The level in words."""
        return {"good": "Good to use", "better": "Usable, could be better", "again": "Take it again"}[
            self.level
        ]

    @property
    def to_do(self) -> tuple[Hint, ...]:
        """The remarks that ask for something, the most pressing first."""
        asked = [remark for remark in self.remarks if remark.level != "good"]
        return tuple(sorted(asked, key=lambda remark: remark.level != "again"))


def coach(record: Mapping[str, Any], *, earlier: Mapping[str, Any] | None = None) -> Coaching:
    """Look at one photograph's record.

    Parameters
    ----------
    record : mapping
        `measure --json` of the photograph; a refused one too.
    earlier : mapping, optional
        The record of the photograph that this one will be compared with.
    """
    refused = record.get("refused")
    if refused:
        return Coaching(remarks=(Hint(topic="light", level="again", sentence=str(refused)),))
    if record.get("film"):
        return Coaching(remarks=tuple(_film(record, earlier)))
    remarks = [*_hotspot(record), _exposure(record), _focus(record), *_scale(record)]
    codes = {one["code"] for one in record.get("warning_details", ())}
    remarks += [_better("file", told(Remark(code="merged")))] if "merged" in codes else []
    if earlier is not None and not earlier.get("refused"):
        remarks += _match(record, earlier) if not earlier.get("film") else [_better("match", FILMED_BEFORE)]
    return Coaching(remarks=tuple(remarks))


def _film(record: Mapping[str, Any], earlier: Mapping[str, Any] | None) -> list[Hint]:
    """What to do better in the next sweep of this spot."""
    film = record["film"]
    share = share_words(film["directions_share"])
    remarks = [
        _better("light", blind_words(place, place_words(place["x_share"], place["y_share"])))
        for place in film.get("blind", ())[:MOST_BLIND]
    ]
    if not remarks:
        remarks = [_good("light", f"The sweep could show {share}.")]
    shaken = film["left_out"].get("blurred", 0)
    if shaken > MOST_SHAKEN * film["frames"]:
        remarks.append(
            _better(
                "focus", f"{shaken} of {film['frames']} frames are shaken. Hold still, move only the lamp."
            )
        )
    remarks += [_good("file", f"{frames_words(film)} count."), _exposure(record), *_scale(record)]
    if earlier is not None and not earlier.get("refused") and not earlier.get("film"):
        remarks.append(_better("match", PHOTOGRAPHED_BEFORE))
    return remarks


def place_words(x_share: float, y_share: float) -> str:
    """Where in a picture something lies, from its shares of width and height.

    Examples
    --------
    >>> place_words(0.2, 0.9), place_words(0.5, 0.5), place_words(0.9, 0.5)
    ('lower left', 'the middle', 'the right')
    """
    down = "upper" if y_share < 1 / 3 else "lower" if y_share > 2 / 3 else ""
    along = "left" if x_share < 1 / 3 else "right" if x_share > 2 / 3 else ""
    if down and along:
        return f"{down} {along}"
    return (
        {"": "the middle", "upper": "the top", "lower": "the bottom"}[down] if not along else f"the {along}"
    )


def _hotspot(record: Mapping[str, Any]) -> list[Hint]:
    width, height = record["photo"]["width_px"], record["photo"]["height_px"]
    spot, short = record["hotspot"], min(width, height)
    off = math.hypot(spot["x"] - (width - 1) / 2, spot["y"] - (height - 1) / 2) / short
    size = spot["radius_px"] / short
    remarks: list[Hint] = []
    where = place_words(spot["x"] / width, spot["y"] / height)
    if off > OFF_CENTRE:
        # Near the edge the four blocks of place names are too coarse: "middle" would contradict the advice.
        said = where if where != "the middle" else "away from the middle"
        remarks.append(
            _better(
                "hotspot",
                f"The lamp's reflection lies {'in ' if said == where else ''}{said}. "
                "Move the phone until it is in the middle.",
            )
        )
    if size > LARGEST_HOTSPOT:
        remarks.append(
            _better(
                "hotspot",
                f"The reflection fills {_across(size)} of the picture's height. Move the lamp farther "
                "away, or lower the exposure.",
            )
        )
    elif size < SMALLEST_HOTSPOT:
        remarks.append(
            _better(
                "hotspot",
                f"The reflection is only {_across(size)} of the picture's height. Go closer, "
                "or bring the lamp closer.",
            )
        )
    if spot.get("lamps", 1) > 1:
        remarks.append(
            _good("hotspot", f"{spot['lamps']} reflections stand together; they count as one lamp.")
        )
    return remarks or [_good("hotspot", "The lamp's reflection has a good place and size.")]


def _exposure(record: Mapping[str, Any]) -> Hint:
    share = zone_share(record)
    if share < LEAST_ZONE_SHARE:
        return _better(
            "exposure",
            f"Marks can be counted in only {share:.0%} of the picture: the rest is too dark or burnt "
            "out. Tap on the paint beside the reflection, lock the exposure, and take it again.",
        )
    return _good("exposure", f"Marks can be counted in {share:.0%} of the picture.")


def zone_share(record: Mapping[str, Any]) -> float:
    """Share of the picture in which marks count."""
    photo, scale = record["photo"], record["scale"]
    area_px = record["zone"]["area_cm2"] * 100 * scale["px_per_mm"] ** 2
    return min(1.0, float(area_px) / float(photo["width_px"] * photo["height_px"]))


def _focus(record: Mapping[str, Any]) -> Hint:
    ppm = record["scale"]["px_per_mm"]
    widths = [mark["width_mm"] * ppm for mark in record["marks"] if mark["width_mm"]]
    if len(widths) < FEWEST_FOR_FOCUS:
        return _better("focus", "Too few marks to judge the focus by: look whether dust or an edge is crisp.")
    width = statistics.median(widths)
    if width > SOFT_MARK_PX:
        return _better(
            "focus",
            f"The marks are {width:.1f} px wide, which is soft. Tap on the paint to focus, hold still, "
            "and take it again.",
        )
    return _good("focus", f"Sharp: the marks are {width:.1f} px wide.")


def _scale(record: Mapping[str, Any]) -> list[Hint]:
    scale = record["scale"]
    if scale["source"] == "none":
        return [
            _better(
                "scale",
                "No scale: lengths are in pixels (uncalibrated). Lay the printed card beside the spot, "
                "or type how wide the picture is.",
            )
        ]
    tilt = scale.get("tilt_deg")
    if tilt is not None and tilt > MOST_TILT_DEG:
        return [_better("scale", f"The card is tilted by {tilt:.0f}°. Hold the phone square to the panel.")]
    return [_good("scale", f"Scale known: {scale['px_per_mm']:.1f} pixels for a millimetre.")]


def _match(record: Mapping[str, Any], earlier: Mapping[str, Any]) -> list[Hint]:
    now, then = record["scale"], earlier["scale"]
    remarks: list[Hint] = []
    known = "none" not in (now["source"], then["source"])
    zoom = _ratio(now["px_per_mm"], then["px_per_mm"]) if known else 1.0
    if not 1 / SCALE_APART < zoom < SCALE_APART:
        words = "farther away" if zoom > 1 else "closer"
        remarks.append(
            _better("match", f"The earlier photograph was taken from {words}. Keep the same distance.")
        )
    size = _ratio(record["hotspot"]["radius_px"], earlier["hotspot"]["radius_px"]) / zoom
    if not 1 / RADIUS_APART < size < RADIUS_APART:
        words = "larger" if size > 1 else "smaller"
        remarks.append(
            _better(
                "match",
                f"The reflection is {max(size, 1 / size):.1f} times {words} than in the earlier photograph. "
                "Use the same lamp at the same distance and exposure.",
            )
        )
    stops = _stops(record["photo"], earlier["photo"])
    if stops is not None and abs(stops) > STOPS_APART:
        words = "more" if stops > 0 else "less"
        remarks.append(
            _better(
                "match", f"This photograph has {abs(stops):.1f} stops {words} exposure than the earlier one."
            )
        )
    return remarks or [_good("match", "Light and distance match the earlier photograph of this spot.")]


def _stops(now: Mapping[str, Any], then: Mapping[str, Any]) -> float | None:
    """Difference of exposure in stops (ISO 2720: time times ISO over f-number squared); None if unknown."""
    values = [
        (one.get("exposure_s"), one.get("iso"), one.get("f_number") or then.get("f_number") or 1.0)
        for one in (now, then)
    ]
    if any(not time or not iso for time, iso, _ in values):
        return None
    light = [time * iso / number**2 for time, iso, number in values if time and iso]
    return math.log2(light[0] / light[1])


def _ratio(first: float, second: float) -> float:
    return first / second if first > 0 and second > 0 else 1.0


def _across(size: float) -> str:
    return f"{2 * size:.0%}"


def _good(topic: Topic, sentence: str) -> Hint:
    return Hint(topic=topic, level="good", sentence=sentence)


def _better(topic: Topic, sentence: str) -> Hint:
    return Hint(topic=topic, level="better", sentence=sentence)


def summary(all_of_them: Sequence[Coaching]) -> str:
    """One sentence over several photographs."""
    again = sum(one.level == "again" for one in all_of_them)
    better = sum(one.level == "better" for one in all_of_them)
    if not again and not better:
        return "All photographs are good to use."
    parts = [f"{again} to take again"] if again else []
    parts += [f"{better} usable that could be better"] if better else []
    return f"{' and '.join(parts)}, of {len(all_of_them)}; look below before the car moves."
