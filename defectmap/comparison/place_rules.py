"""Rules on what is in the picture: the same file, the same place, the same scale."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from defectmap.comparison import tuning
from defectmap.comparison.align import Alignment
from defectmap.comparison.conditions import Evidence
from defectmap.comparison.limit import Verdict
from defectmap.comparison.outcome import Reason, beyond


def same_picture(before: Evidence, after: Evidence) -> Iterator[Reason]:
    """Find the same file, or one picture saved twice: recompressed, cropped, resized, turned or mirrored."""
    if before.facts.sha256 == after.facts.sha256:
        yield Reason(code="same file", topic="same picture", verdict="no")
        return
    match, changed = fingerprint_match(before, after)
    if match < tuning.COPY or changed > tuning.CHANGED_SHARE:
        return
    apart = any(
        None not in told and told[0] != told[1]
        for told in (
            (before.facts.taken, after.facts.taken),
            (before.facts.iso, after.facts.iso),
            (before.facts.exposure_s, after.facts.exposure_s),
        )
    )
    yield Reason(
        code="nothing moved" if apart else "saved twice",
        values={"match": match, "limit": tuning.COPY},
        topic="same picture",
        verdict="with care" if apart else "no",
        value=match,
        limit=tuning.COPY,
    )


def spots_apart(side: str, spots: Sequence[Evidence]) -> Iterator[Reason]:
    """Find spots that are one photograph: the same file, or one picture saved again. A copy is no new spot.

    Parameters
    ----------
    side : {"before", "after"}
        Whose photographs they are.
    spots : sequence of Evidence
        One a spot.
    """
    for (first, one), (second, other) in combinations(enumerate(spots, start=1), 2):
        same = one.facts.sha256 == other.facts.sha256
        match, changed = (1.0, 0.0) if same else fingerprint_match(one, other)
        if match >= tuning.COPY and changed <= tuning.CHANGED_SHARE:
            yield Reason(
                topic="same picture",
                verdict="no",
                code="one picture for two spots",
                values={"side": side, "first": first, "second": second},
                value=match,
                limit=tuning.COPY,
            )


def fingerprint_match(before: Evidence, after: Evidence) -> tuple[float, float]:
    """How far two pictures are one: correlation of fine detail, and share of small blocks that differ.

    The best of the eight ways to turn and mirror the after picture.
    """
    first = before.fingerprint
    best = (0.0, 1.0)
    for mirrored in (after.fingerprint, after.fingerprint[:, ::-1]):
        for quarters in range(4):
            second = np.rot90(mirrored, quarters)
            both = ((first != 0) & (second != 0)).astype(np.float32)
            if both.sum() > tuning.FINGERPRINT_LEAST:
                best = max(best, _agreement(first * both, second * both), key=lambda pair: pair[0])
    return best


def _agreement(first: NDArray[np.float32], second: NDArray[np.float32]) -> tuple[float, float]:
    """Correlation of two pictures, and the share of their 8 by 8 blocks that correlate less than half."""
    side = first.shape[0] // tuning.PLACE_BLOCK * tuning.PLACE_BLOCK

    def blocks(product: NDArray[np.float32]) -> NDArray[np.float32]:
        cut = product[:side, :side].reshape(
            side // tuning.PLACE_BLOCK, tuning.PLACE_BLOCK, side // tuning.PLACE_BLOCK, tuning.PLACE_BLOCK
        )
        return np.asarray(cut.sum(axis=(1, 3)))

    cross, one, other = blocks(first * second), blocks(first * first), blocks(second * second)
    energy = np.sqrt(one * other)
    patterned = (one > tuning.PATTERNED * tuning.PLACE_BLOCK**2) & (
        other > 0
    )  # detail is in units of its local spread
    if not patterned.any():
        return 0.0, 1.0
    whole = float(cross.sum() / max(float(np.sqrt(one.sum() * other.sum())), 1e-9))
    return whole, float((cross[patterned] < tuning.BLOCK_ALIKE * energy[patterned]).mean())


def place(before: Evidence, after: Evidence, alignment: Alignment) -> Iterator[Reason]:
    """Whether the paint itself says that both show one place."""
    if alignment.by == "marks":
        return
    pieces = min(before.view.line_pieces, after.view.line_pieces)
    best = max(alignment.texture_sureness, alignment.marks_sureness)
    pattern = min(before.view.pattern, after.view.pattern)
    if pieces >= tuning.MARKS_TO_MATCH and alignment.marks_sureness < tuning.NO_MATCH:
        yield _misfit("marks do not fit", "no", alignment.marks_sureness, tuning.NO_MATCH, pieces=pieces)
    elif alignment.by == "hotspot" and best < tuning.NO_MATCH and pattern >= tuning.PATTERN_TO_MATCH:
        yield _misfit("texture does not fit", "no", best, tuning.NO_MATCH)
    elif alignment.by == "hotspot":
        yield _misfit("place not confirmed", "with care", best, tuning.ALIGN_SURE)


def _misfit(code: str, verdict: Verdict, sureness: float, limit: float, **values: float) -> Reason:
    said = {"sureness": sureness, "limit": limit, **values}
    return Reason(code=code, values=said, topic="place", verdict=verdict, value=sureness, limit=limit)


def overlap(before: Evidence, after: Evidence, *, common_area_cm2: float) -> Iterator[Reason]:
    """How much of the zone both photographs share."""
    smaller = min(before.area_cm2, after.area_cm2)
    if smaller <= 0:
        return
    share = min(1.0, common_area_cm2 / smaller)
    for reason in beyond("place", 1 - share, tuning.UNCOMMON_SHARE, code="little overlap"):
        limit = 100 * (1 - (reason.limit or 0.0))
        yield replace(reason, values={"share": 100 * share, "limit": limit})
    if before.calibrated and common_area_cm2 < tuning.MIN_COMMON_CM2:
        yield Reason(
            code="small common area",
            values={"area": common_area_cm2, "limit": tuning.MIN_COMMON_CM2},
            topic="place",
            verdict="with care",
            value=common_area_cm2,
            limit=tuning.MIN_COMMON_CM2,
        )


def lamp_moved(before: Evidence, after: Evidence, alignment: Alignment) -> Iterator[Reason]:
    """Whether the lamp's reflection lies on the same place of the paint and lights the same grooves."""
    if alignment.sure and before.calibrated and after.calibrated:
        moved = math.hypot(alignment.down_mm, alignment.right_mm)
        yield from beyond("lamp", moved, tuning.LAMP_MOVED_MM, code="lamp moved", moved=moved)


def scale(before: Evidence, after: Evidence, alignment: Alignment) -> Iterator[Reason]:
    """Whether both scales are known, near each other, and true to the paint."""
    if before.calibrated != after.calibrated:
        known = "before" if before.calibrated else "after"
        yield Reason(code="one scale only", values={"side": known}, topic="scale", verdict="no")
        return
    if not before.calibrated:
        yield Reason(code="no scale", topic="scale", verdict="with care")
    ratio = after.px_per_mm / before.px_per_mm
    for reason in beyond("scale", abs(math.log(ratio)), tuning.SCALE_STEPS, code="pixels per mm"):
        yield replace(reason, values={"ratio": ratio, "limit": math.exp(reason.limit or 0.0)})
    error = abs(alignment.scale - 1) if before.calibrated else 0.0
    for reason in beyond("scale", error, tuning.SCALE_ERROR, code="scales disagree"):
        yield replace(reason, values={"error": 100 * error, "limit": 100 * (reason.limit or 0.0)})
