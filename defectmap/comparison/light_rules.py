"""Rules on light and camera: the same lamp, exposure and focus, the same paint under it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from defectmap.comparison.conditions import Evidence
from defectmap.comparison.halo import HaloDifference, colour_difference_stops
from defectmap.comparison.outcome import Reason, Verdict
from defectmap.comparison.outline import LEAST_BULGE, bulges, height_of
from defectmap.comparison.tolerances import (
    BODY_STOPS,
    COLOUR_STOPS,
    CONTRAST_LIMIT_STEPS,
    EXPOSURE_STOPS,
    HALO_SHAPE_STOPS,
    HAZE_STEPS,
    MISSING_BULGE,
    RADIUS_STEPS,
    UNEXPLAINED_STOPS,
    WIDTH_STEPS,
    beyond,
)
from defectmap.panel.measurement import PhotoFacts


def lamp(before: Evidence, after: Evidence, halo: HaloDifference) -> Iterator[Reason]:
    """Whether it is the same lamp at the same distance: number of lights, halo, hotspot, brightness."""
    if before.lamps != after.lamps:
        sentence = (
            f"The reflection has {before.lamps} light source(s) before and {after.lamps} after: it is "
            "another lamp; use the same one."
        )
        yield Reason(topic="lamp", verdict="no", sentence=sentence, value=after.lamps, limit=before.lamps)
    yield from _bulge_reasons(before, after, halo.stops)
    note = f" Haze went from {before.haze:.2f} to {after.haze:.2f}, which changes the halo by itself."
    for reason in _halo_reasons(halo):
        if _haze_apart(before, after):
            yield replace(reason, verdict="with care", sentence=reason.sentence + note)
        else:
            yield reason
    yield from _unexplained(before, after, halo)


def exposure(halo: HaloDifference) -> Iterator[Reason]:
    """Whether both were exposed alike, as the halo shows it."""
    word = "brighter" if halo.stops > 0 else "darker"
    yield from beyond(
        "exposure",
        abs(halo.stops),
        EXPOSURE_STOPS,
        lambda limit: (
            f"The halo is {abs(halo.stops):.1f} stops {word} after than before (limit {limit:g}), which "
            "changes how many marks show; lock the exposure."
        ),
    )


def paint(before: Evidence, after: Evidence, halo: HaloDifference) -> Iterator[Reason]:
    """Whether the paint beside the halo has one colour and one brightness."""
    tint = colour_difference_stops(before.body_rgb, after.body_rgb)
    yield from beyond(
        "paint",
        tint,
        COLOUR_STOPS,
        lambda limit: (
            f"The paint has another colour ({tint:.1f} stops between red, green and blue, limit {limit:g}): "
            "another car or panel, or another white balance."
        ),
    )
    word = "brighter" if halo.body_stops > 0 else "darker"
    yield from beyond(
        "paint",
        abs(halo.body_stops),
        BODY_STOPS,
        lambda limit: (
            f"Beside the halo the paint is {abs(halo.body_stops):.1f} stops {word} at the same exposure "
            f"(limit {limit:g}): another paint, or other light in the room."
        ),
    )


def focus(width_ratio: float) -> Iterator[Reason]:
    """Whether the marks that both photographs show are equally sharp; `width_ratio` is after over before."""
    if not width_ratio > 0:
        return
    softer = "after" if width_ratio > 1 else "before"
    yield from beyond(
        "focus",
        abs(math.log(width_ratio)),
        WIDTH_STEPS,
        lambda limit: (
            f"The same marks are {math.exp(abs(math.log(width_ratio))):.2f} times as wide in the {softer} "
            f"photograph (limit {math.exp(limit):.2f}): it is out of focus or shaken, which hides fine "
            "marks; focus on the paint and hold still."
        ),
    )


def exposure_step(before: PhotoFacts, after: PhotoFacts) -> float:
    """Stops from before to after by the camera's own record; NaN where it does not say.

    Exposure time times sensitivity over aperture squared; an aperture that neither file gives is taken to be
    fixed.
    """
    step = 0.0
    pairs = [(before.exposure_s, after.exposure_s, 1), (before.iso, after.iso, 1)]
    if not (before.f_number is None and after.f_number is None):
        pairs.append((before.f_number, after.f_number, -2))
    for first, second, power in pairs:
        if first is None or second is None or min(first, second) <= 0:
            return math.nan
        step += power * math.log2(second / first)
    return step


def detection(before: Evidence, after: Evidence) -> Iterator[Reason]:
    """Whether marks of about the same contrast could be seen in both."""
    if not (before.contrast_limit > 0 and after.contrast_limit > 0):
        return
    ratio = after.contrast_limit / before.contrast_limit
    word = "fainter" if ratio < 1 else "only stronger"
    yield from beyond(
        "detection limit",
        abs(math.log(ratio)),
        CONTRAST_LIMIT_STEPS,
        lambda limit: (
            f"The after photograph shows {word} marks: its limit of contrast is {after.contrast_limit:.3f} "
            f"against {before.contrast_limit:.3f} before (limit {math.exp(limit):.1f} times); use the same "
            "camera settings."
        ),
    )


def _bulge_reasons(before: Evidence, after: Evidence, stops: float) -> Iterator[Reason]:
    """Lights that melted into one on one side, a single lamp on the other.

    With more exposure the outline lies farther out, where the same lights leave less of a bulge.
    """
    verdict: Verdict = "no" if abs(stops) < EXPOSURE_STOPS.care else "with care"
    sides = {"before": before.outline, "after": after.outline}
    for here, there in (("before", "after"), ("after", "before")):
        found = bulges(sides[here])
        if found is None or not height_of(sides[there], found.count) < MISSING_BULGE * found.height:
            continue
        sentence = (
            f"The hotspot's outline has {found.count} even bulges in the {here} photograph, of "
            f"{100 * found.height:.0f} % of its radius (limit {100 * LEAST_BULGE:.1f} %), and none in the "
            "other: several lights that melt together in one, a single lamp in the other; use the same lamp."
        )
        yield Reason(topic="lamp", verdict=verdict, sentence=sentence, value=found.height, limit=LEAST_BULGE)


def _haze_apart(before: Evidence, after: Evidence) -> bool:
    if min(before.haze, after.haze) <= 0:
        return before.haze != after.haze
    return abs(math.log(after.haze / before.haze)) >= HAZE_STEPS


def _halo_reasons(halo: HaloDifference) -> Iterator[Reason]:
    yield from beyond(
        "lamp",
        halo.shape,
        HALO_SHAPE_STOPS,
        lambda limit: (
            f"The halo falls off in another way ({halo.shape:.2f} stops, limit {limit:g}): another lamp, "
            "another distance or a second light; use the same lamp in the same place."
        ),
    )
    yield from beyond(
        "lamp",
        abs(halo.radius_steps),
        RADIUS_STEPS,
        lambda limit: (
            f"One hotspot is {math.exp(halo.radius_steps):.2f} times as wide as the other photograph's halo "
            f"leads to expect (limit {math.exp(limit):.2f} either way): another lamp or distance; use the "
            "same lamp in the same place."
        ),
    )


def _unexplained(before: Evidence, after: Evidence, halo: HaloDifference) -> Iterator[Reason]:
    """What the camera's settings do not explain of the exposure step."""
    rest = halo.stops - exposure_step(before.facts, after.facts)
    word = "brighter" if rest > 0 else "darker"
    yield from beyond(
        "lamp",
        abs(rest),
        UNEXPLAINED_STOPS,
        lambda limit: (
            f"The halo is {abs(rest):.1f} stops {word} after than the camera's settings explain (limit "
            f"{limit:g}): another lamp, another brightness or another distance; set the lamp up as before."
        ),
    )
