"""The capture coach: what to do better in a photograph, while the car still stands there.

It reads the record of a measured photograph (`measure --json`), and that of an earlier photograph of the same
spot where there is one, as only like can be compared with like later. Its limits stand in `tuning.py`.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from defectmap.trade.tuning import (
    FEWEST_FOR_FOCUS,
    LARGEST_HOTSPOT,
    LEAST_ZONE_SHARE,
    MOST_BLIND,
    MOST_SHAKEN,
    MOST_TILT_DEG,
    OFF_CENTRE,
    RADIUS_APART,
    SCALE_APART,
    SMALLEST_HOTSPOT,
    SOFT_MARK_PX,
    STOPS_APART,
)
from defectmap.words.coach_words import place
from defectmap.words.remark import Remark, Value

Level = Literal["good", "better", "again"]
Topic = Literal["light", "hotspot", "exposure", "focus", "scale", "match", "file"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hint:
    """One thing about a photograph; the sentences of "better" and "again" say what to do."""

    topic: Topic
    level: Level
    remark: Remark


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
        said = Remark(code="refused", values={"words": str(refused)})
        return Coaching(remarks=(Hint(topic="light", level="again", remark=said),))
    if record.get("film"):
        return Coaching(remarks=tuple(_film(record, earlier)))
    hints = [*_hotspot(record), _exposure(record), _focus(record), *_scale(record)]
    codes = {one["code"] for one in record.get("warning_details", ())}
    hints += [_better("file", "merged")] if "merged" in codes else []
    if earlier is not None and not earlier.get("refused"):
        hints += _match(record, earlier) if not earlier.get("film") else [_better("match", "filmed before")]
    return Coaching(remarks=tuple(hints))


def summary(all_of_them: Sequence[Coaching]) -> Remark:
    """What there is to say over several photographs."""
    again = sum(one.level == "again" for one in all_of_them)
    better = sum(one.level == "better" for one in all_of_them)
    if not again and not better:
        return Remark(code="all good")
    code = "some of both" if again and better else "some again" if again else "some better"
    return Remark(code=code, values={"again": again, "better": better, "all": len(all_of_them)})


def blind_spot(found: Mapping[str, Any]) -> Remark:
    """Where a film was blind, and where to move the lamp next time.

    Parameters
    ----------
    found : mapping
        One of `blind` of the film in the record of a measurement.
    """
    values = {
        "place": place(found["x_share"], found["y_share"]),
        "percent": 100 * found["directions_share"],
        "side": Remark(code=f"lamp {found['lamp_side']}"),
    }
    return Remark(code="blind", values=values)


def zone_share(record: Mapping[str, Any]) -> float:
    """Share of the picture in which marks count."""
    photo, scale = record["photo"], record["scale"]
    area_px = record["zone"]["area_cm2"] * 100 * scale["px_per_mm"] ** 2
    return min(1.0, float(area_px) / float(photo["width_px"] * photo["height_px"]))


def _film(record: Mapping[str, Any], earlier: Mapping[str, Any] | None) -> Iterator[Hint]:
    """What to do better in the next sweep of this spot."""
    film = record["film"]
    blind = film.get("blind", ())[:MOST_BLIND]
    for found in blind:
        yield Hint(topic="light", level="better", remark=blind_spot(found))
    share = film["directions_share"]
    if not blind and share is None:
        yield _good("light", "sweep unknown")
    elif not blind:
        yield _good("light", "sweep shows", percent=100 * share)
    shaken, frames = film["left_out"].get("blurred", 0), film["frames"]
    if shaken > MOST_SHAKEN * frames:
        yield _better("focus", "shaken", shaken=shaken, frames=frames)
    cut = film["left_out"].get("lamp cut", 0)
    if cut > MOST_SHAKEN * frames:
        yield _better("light", "lamp at the edge", cut=cut, frames=frames)
    yield _good("file", "frames count", used=len(film["used"]), frames=frames)
    yield _exposure(record)
    yield from _scale(record)
    if earlier is not None and not earlier.get("refused") and not earlier.get("film"):
        yield _better("match", "photographed before")


def _hotspot(record: Mapping[str, Any]) -> list[Hint]:
    width, height = record["photo"]["width_px"], record["photo"]["height_px"]
    spot, short = record["hotspot"], min(width, height)
    off = math.hypot(spot["x"] - (width - 1) / 2, spot["y"] - (height - 1) / 2) / short
    size = spot["radius_px"] / short
    hints: list[Hint] = []
    if off > OFF_CENTRE:
        where = place(spot["x"] / width, spot["y"] / height)
        # Near the edge the nine places are too coarse: "the middle" would contradict the advice.
        code = "hotspot away" if where.code == "at middle" else "hotspot in"
        hints.append(_better("hotspot", code, place=where))
    if size > LARGEST_HOTSPOT:
        hints.append(_better("hotspot", "hotspot large", size=2 * size))
    elif size < SMALLEST_HOTSPOT:
        hints.append(_better("hotspot", "hotspot small", size=2 * size))
    if spot.get("lamps", 1) > 1:
        hints.append(_good("hotspot", "lamps together", lamps=spot["lamps"]))
    return hints or [_good("hotspot", "hotspot good")]


def _exposure(record: Mapping[str, Any]) -> Hint:
    share = zone_share(record)
    if share < LEAST_ZONE_SHARE:
        return _better("exposure", "zone small", share=share)
    return _good("exposure", "zone good", share=share)


def _focus(record: Mapping[str, Any]) -> Hint:
    ppm = record["scale"]["px_per_mm"]
    widths = [mark["width_mm"] * ppm for mark in record["marks"] if mark["width_mm"]]
    if len(widths) < FEWEST_FOR_FOCUS:
        return _better("focus", "focus unknown")
    width = statistics.median(widths)
    if width > SOFT_MARK_PX:
        return _better("focus", "focus soft", width_px=width)
    return _good("focus", "focus good", width_px=width)


def _scale(record: Mapping[str, Any]) -> list[Hint]:
    scale = record["scale"]
    if scale["source"] == "none":
        return [_better("scale", "scale none")]
    tilt = scale.get("tilt_deg")
    if tilt is not None and tilt > MOST_TILT_DEG:
        return [_better("scale", "scale tilted", tilt_deg=tilt)]
    return [_good("scale", "scale good", px_per_mm=scale["px_per_mm"])]


def _match(record: Mapping[str, Any], earlier: Mapping[str, Any]) -> list[Hint]:
    now, then = record["scale"], earlier["scale"]
    hints: list[Hint] = []
    known = "none" not in (now["source"], then["source"])
    zoom = _ratio(now["px_per_mm"], then["px_per_mm"]) if known else 1.0
    if not 1 / SCALE_APART < zoom < SCALE_APART:
        code = "taken farther away before" if zoom > 1 else "taken closer before"
        hints.append(_better("match", code))
    size = _ratio(record["hotspot"]["radius_px"], earlier["hotspot"]["radius_px"]) / zoom
    if not 1 / RADIUS_APART < size < RADIUS_APART:
        code = "hotspot larger" if size > 1 else "hotspot smaller"
        hints.append(_better("match", code, times=max(size, 1 / size)))
    stops = _stops(record["photo"], earlier["photo"])
    if stops is not None and abs(stops) > STOPS_APART:
        code = "more exposure" if stops > 0 else "less exposure"
        hints.append(_better("match", code, stops=abs(stops)))
    return hints or [_good("match", "match good")]


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


def _good(topic: Topic, code: str, **values: Value) -> Hint:
    return Hint(topic=topic, level="good", remark=Remark(code=code, values=values))


def _better(topic: Topic, code: str, **values: Value) -> Hint:
    return Hint(topic=topic, level="better", remark=Remark(code=code, values=values))
