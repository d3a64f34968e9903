"""Rules on light and camera: the same lamp, exposure and focus, the same paint under it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from defectmap.comparison import tuning
from defectmap.comparison.conditions import Evidence
from defectmap.comparison.halo import HaloDifference, colour_difference_stops, haze_apart
from defectmap.comparison.limit import Verdict
from defectmap.comparison.matching import Sharpness
from defectmap.comparison.outcome import Reason, Topic, beyond
from defectmap.comparison.outline import bulges, height_of
from defectmap.comparison.settings_step import exposure_step
from defectmap.panel.tuning import STANDARD_UM

OFF_ROUND_WARNING = "lines-not-round-the-lamp"
# warnings of one photograph (`words.photo_words.WARNINGS`) that make a comparison less sure
WARNED: dict[str, tuple[str, Topic]] = {
    "second-lamp": ("warned of second-lamp", "lamp"),
    OFF_ROUND_WARNING: ("warned of lines-not-round-the-lamp", "lamp"),
    "underexposed": ("warned of underexposed", "exposure"),
    "soft": ("warned of soft", "focus"),
    "small-zone": ("warned of small-zone", "detection limit"),
    "shadows-lifted": ("warned of shadows-lifted", "processing"),
    "iso-contradicted": ("warned of iso-contradicted", "processing"),
}


def lamp(before: Evidence, after: Evidence, halo: HaloDifference, *, bent: bool = False) -> Iterator[Reason]:
    """Whether it is the same lamp at the same distance: number of lights, halo, hotspot, brightness.

    Where processing `bent` the halo, it says nothing of the lamp.
    """
    if before.lamps != after.lamps:
        yield Reason(
            code="lights differ",
            values={"before": before.lamps, "after": after.lamps},
            topic="lamp",
            verdict="no",
            value=after.lamps,
            limit=before.lamps,
        )
    yield from _bulge_reasons(before, after, halo.stops)
    if bent:
        if not halo.toned:
            side = "after" if halo.tone < 1 else "before"
            yield Reason(code="halo bent", values={"side": side}, topic="processing", verdict="with care")
        return
    for reason in _halo_reasons(halo):
        if halo.toned:  # said as what it is by `processing.processing_reasons`
            continue
        if halo.hazed or haze_apart(before, after):
            haze = {"haze_before": before.haze, "haze_after": after.haze}
            values = {**reason.values, **haze}
            yield replace(reason, code=f"{reason.code} and haze", verdict="with care", values=values)
        else:
            yield reason
    yield from _unexplained(before, after, halo)


def exposure(before: Evidence, after: Evidence, halo: HaloDifference) -> Iterator[Reason]:
    """Whether both were exposed alike, as the halo shows it.

    Where a tone curve bends the halo, it lifts it as well; then the cameras' own settings have the word.
    """
    if halo.toned and abs(exposure_step(before.facts, after.facts)) < tuning.EXPOSURE_STOPS.care:
        return
    stops = abs(halo.stops)
    word = _brighter(halo.stops)
    yield from beyond("exposure", stops, tuning.EXPOSURE_STOPS, code="exposure", stops=stops, word=word)


def paint(before: Evidence, after: Evidence, halo: HaloDifference, *, bent: bool = False) -> Iterator[Reason]:
    """Whether the paint beside the halo has one colour and one brightness."""
    tint = colour_difference_stops(before.body_rgb, after.body_rgb)
    yield from beyond("paint", tint, tuning.COLOUR_STOPS, code="paint colour", tint=tint)
    if bent or halo.toned:  # a tone curve lifts what is dark
        return
    stops = abs(halo.body_stops)
    word = _brighter(halo.body_stops)
    yield from beyond("paint", stops, tuning.BODY_STOPS, code="paint brightness", stops=stops, word=word)


def focus(sharpness: Sharpness | None) -> Iterator[Reason]:
    """Whether as much of a line's light is read in both photographs; a softer one spreads it out."""
    if sharpness is None:
        return
    for reason in beyond("focus", abs(sharpness.lost_steps), tuning.LOST_LIGHT, code="focus"):
        values: dict[str, str | float] = {
            "ratio": math.exp(abs(math.log(sharpness.width_ratio))),
            "side": "after" if sharpness.width_ratio > 1 else "before",
            "lost": 100 * (1 - math.exp(-abs(sharpness.lost_steps))),
            "limit": 100 * (1 - math.exp(-(reason.limit or 0.0))),
        }
        yield replace(reason, values=values)


def round_lamp(before: Evidence, after: Evidence) -> Iterator[Reason]:
    """Whether the lines of each photograph are lit as grooves are: they run round the lamp."""
    for side, one in (("before", before), ("after", after)):
        share = 100 * (1 - one.off_round)
        for reason in beyond("lamp", one.off_round, tuning.OFF_ROUND, code="lines not round the lamp"):
            values: dict[str, str | float] = {
                "side": side,
                "share": share,
                "limit": 100 * (1 - (reason.limit or 0.0)),
            }
            yield replace(reason, values=values)


def warned(before: Evidence, after: Evidence) -> Iterator[Reason]:
    """What each photograph was warned of by itself, unless a rule on the pair says it with figures."""
    for side, one in (("before", before), ("after", after)):
        said = {OFF_ROUND_WARNING} if tuning.OFF_ROUND.verdict(one.off_round) != "yes" else set()
        for warning, (code, topic) in WARNED.items():
            if warning in one.warned and warning not in said:
                yield Reason(code=code, values={"side": side}, topic=topic, verdict="with care")


def detection(before: Evidence, after: Evidence) -> Iterator[Reason]:
    """Whether each photograph shows the standard mark."""
    for side, one in (("before", before), ("after", after)):
        for reason in beyond(
            "detection limit", one.limit_um / STANDARD_UM, tuning.STANDARD_UNSEEN, code="detection limit"
        ):
            values: dict[str, str | float] = {
                "side": side,
                "found": one.limit_um,
                "limit": STANDARD_UM * (reason.limit or 0.0),
            }
            yield replace(reason, values=values)


def _bulge_reasons(before: Evidence, after: Evidence, stops: float) -> Iterator[Reason]:
    """Lights that melted into one on one side, a single lamp on the other.

    With more exposure the outline lies farther out, where the same lights leave less of a bulge.
    """
    verdict: Verdict = "no" if abs(stops) < tuning.EXPOSURE_STOPS.care else "with care"
    sides = {"before": before.outline, "after": after.outline}
    for here, there in (("before", "after"), ("after", "before")):
        found = bulges(sides[here])
        if found is None or not height_of(sides[there], found.count) < tuning.MISSING_BULGE * found.height:
            continue
        values: dict[str, str | float] = {
            "count": found.count,
            "side": here,
            "height": 100 * found.height,
            "limit": 100 * tuning.LEAST_BULGE,
        }
        yield Reason(
            code="melted lights",
            values=values,
            topic="lamp",
            verdict=verdict,
            value=found.height,
            limit=tuning.LEAST_BULGE,
        )


def _halo_reasons(halo: HaloDifference) -> Iterator[Reason]:
    yield from beyond("lamp", halo.shape, tuning.HALO_SHAPE_STOPS, code="halo shape", found=halo.shape)
    for reason in beyond("lamp", abs(halo.radius_steps), tuning.RADIUS_STEPS, code="hotspot width"):
        values = {"ratio": math.exp(halo.radius_steps), "limit": math.exp(reason.limit or 0.0)}
        yield replace(reason, values=values)


def _unexplained(before: Evidence, after: Evidence, halo: HaloDifference) -> Iterator[Reason]:
    """What the camera's settings do not explain of the exposure step."""
    if halo.toned:
        return
    rest = halo.stops - exposure_step(before.facts, after.facts)
    yield from beyond(
        "lamp",
        abs(rest),
        tuning.UNEXPLAINED_STOPS,
        code="light unexplained",
        stops=abs(rest),
        word=_brighter(rest),
    )


def _brighter(stops: float) -> str:
    return "brighter" if stops > 0 else "darker"
