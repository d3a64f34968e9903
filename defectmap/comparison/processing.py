"""What a camera or an app did to a photograph after it was taken, as far as the photograph itself shows it.

Sharpening leaves the light beside a line darker than it is farther out (overshoot). Noise reduction and heavy
compression leave a grain finer than the steps of the file, that hangs together from pixel to pixel. A copy
that a messenger made has lost the camera's notes and is smaller than the other side. What is done to one of
two photographs shows in their grain at one brightness (`defectmap.comparison.grain_step`), a tone curve in
their halos (`defectmap.comparison.halo`).

Where something was done, the marks of one strength that both photographs show say what it does to a mark
(`matching.StrengthStep`): between none of that, since polishing makes marks shallower too, and a little more
than all of it; the middle is corrected, the rest carried into the interval (`defectmap.comparison.doubt`).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from defectmap.comparison import tuning
from defectmap.comparison.grain_step import GrainStep, grain_step
from defectmap.comparison.halo import HaloDifference
from defectmap.comparison.matching import StrengthStep
from defectmap.comparison.outcome import Reason
from defectmap.comparison.processing_traces import Processing, sharpened
from defectmap.comparison.settings_step import other_camera
from defectmap.panel.measurement import PhotoFacts
from defectmap.panel.tuning import BASE_ISO


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """What the rules need to know of one photograph."""

    name: str  # "before" or "after"
    facts: PhotoFacts
    found: Processing


def processing_reasons(before: Side, after: Side, halo: HaloDifference) -> Iterator[Reason]:
    """What was done to one of two photographs and not to the other, each by its name."""
    step = after.found.overshoot - before.found.overshoot
    sharp = sharpened(before.found, after.found)
    if sharp:
        yield _reason(
            "sharpened", after if step > 0 else before, value=abs(step), limit=tuning.OVERSHOOT_STEP
        )
    if before.found.smoothed != after.found.smoothed:
        side = before if before.found.smoothed else after
        yield _reason("smoothed", side, value=side.found.grain_codes, limit=tuning.SMOOTH_CODES)
    elif not sharp:
        yield from _grain_reason(before, after)
    copied = _copied(before.facts, after.facts)
    if copied:
        yield _reason("smaller copy", before if copied == "before" else after)
    if halo.toned:
        side = after if halo.tone < 1 else before
        yield _reason("tone curve", side, value=min(halo.tone, 1 / halo.tone), limit=1.0)


def _grain_reason(before: Side, after: Side) -> Iterator[Reason]:
    """Grain that differs, where nothing tells whether the finer was smoothed or the coarser sharpened."""
    rest, limit = grain_unexplained(before, after), grain_limit(before.facts, after.facts)
    if rest is None or rest.rms < limit:
        return
    values: dict[str, str | float] = {
        "side": after.name if rest.mean < 0 else before.name,
        "ratio": math.exp(rest.rms),
        "limit": math.exp(limit),
    }
    yield Reason(
        code="grain differs",
        values=values,
        topic="processing",
        verdict="with care",
        value=rest.rms,
        limit=limit,
    )


def grain_unexplained(before: Side, after: Side) -> GrainStep | None:
    """How the grains differ beyond what the sensitivities explain; None where that is not known.

    Shot noise grows with the root of the sensitivity; what compression leaves of it, a third as fast to twice
    as fast (rendered), and grain that is the paint's own not at all. Whatever lies between is explained.
    """
    first, second = before.facts.iso, after.facts.iso
    if not (first and second):
        return grain_step(before.found.grain, after.found.grain)
    told = math.log(second / first)
    own = tuning.GRAIN_PAINT_CODES * math.sqrt(min(first, second) / BASE_ISO)
    return grain_step(before.found.grain, after.found.grain, explained=told, own_codes=own)


def grain_limit(before: PhotoFacts, after: PhotoFacts) -> float:
    """From where grain differs: less where one camera tells its sensitivity."""
    known = bool(before.iso and after.iso) and not other_camera(before, after)
    return tuning.GRAIN_STEP if known else tuning.GRAIN_STEP_UNTOLD


def bends_halo(before: Side, after: Side, halo: HaloDifference, seen: StrengthStep | None) -> bool:
    """Whether what was done to one side, and not another lamp, made its halo another.

    Lifted shadows flatten the halo, and the grain in them is lifted alike; and marks that both show keep
    their strength to one another, which another lamp does not leave them.
    """
    rest = grain_unexplained(before, after)
    if seen is None or rest is None or not abs(math.log(halo.tone)) >= tuning.TONE_LEAST:
        return False
    flatter = after if halo.tone < 1 else before
    coarser = after if rest.mean > 0 else before
    return flatter is coarser and abs(rest.mean) >= grain_limit(before.facts, after.facts)


def _copied(before: PhotoFacts, after: PhotoFacts) -> str:
    """Which side is smaller and has lost the camera's notes that the other has; empty if none."""
    pixels = [one.width_px * one.height_px for one in (before, after)]
    bare = [one.iso is None and one.exposure_s is None for one in (before, after)]
    for name, this, other in (("before", 0, 1), ("after", 1, 0)):
        if bare[this] and not bare[other] and pixels[this] < tuning.COPY_SHARE * pixels[other]:
            return name
    return ""


def _reason(code: str, side: Side, *, value: float | None = None, limit: float | None = None) -> Reason:
    values = {"side": side.name}
    return Reason(code=code, values=values, topic="processing", verdict="with care", value=value, limit=limit)
