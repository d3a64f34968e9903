"""Rules on what is in the picture: the same file, the same place, the same scale."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from defectmap.comparison.align import SURE, Alignment
from defectmap.comparison.conditions import Evidence
from defectmap.comparison.outcome import Reason
from defectmap.comparison.tolerances import (
    CHANGED_SHARE,
    COPY,
    MARKS_TO_MATCH,
    MIN_COMMON_CM2,
    NO_MATCH,
    PATTERN_TO_MATCH,
    SCALE_ERROR,
    SCALE_STEPS,
    UNCOMMON_SHARE,
    beyond,
)

BLOCK = 8  # cells


def same_picture(before: Evidence, after: Evidence) -> Iterator[Reason]:
    """Find the same file, or one picture saved twice: recompressed, cropped, resized, turned or mirrored."""
    if before.facts.sha256 == after.facts.sha256:
        sentence = "Before and after are the same file; give the photograph taken after the work."
        yield Reason(topic="same picture", verdict="no", sentence=sentence)
        return
    match, changed = fingerprint_match(before, after)
    if match < COPY or changed > CHANGED_SHARE:
        return
    times = before.facts.taken, after.facts.taken
    if None not in times and times[0] != times[1]:
        sentence = (
            f"Nothing has changed or moved: the finest detail agrees to {match:.2f} (two shots by hand stay "
            f"below {COPY:g}). With a camera on a stand that means no change; else it is a copy with "
            "another time."
        )
        yield Reason(topic="same picture", verdict="with care", sentence=sentence, value=match, limit=COPY)
        return
    sentence = (
        f"Before and after look like one picture saved twice: their finest detail agrees to {match:.2f} "
        f"(two shots by hand stay below {COPY:g}); give the photograph taken after the work."
    )
    yield Reason(topic="same picture", verdict="no", sentence=sentence, value=match, limit=COPY)


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
            if both.sum() > 1000:
                best = max(best, _agreement(first * both, second * both), key=lambda pair: pair[0])
    return best


def _agreement(first: NDArray[np.float32], second: NDArray[np.float32]) -> tuple[float, float]:
    """Correlation of two pictures, and the share of their 8 by 8 blocks that correlate less than half."""
    side = first.shape[0] // BLOCK * BLOCK

    def blocks(product: NDArray[np.float32]) -> NDArray[np.float32]:
        cut = product[:side, :side].reshape(side // BLOCK, BLOCK, side // BLOCK, BLOCK)
        return np.asarray(cut.sum(axis=(1, 3)))

    cross, one, other = blocks(first * second), blocks(first * first), blocks(second * second)
    energy = np.sqrt(one * other)
    patterned = (one > 0.25 * BLOCK**2) & (other > 0)  # detail is in units of its local spread
    if not patterned.any():
        return 0.0, 1.0
    whole = float(cross.sum() / max(float(np.sqrt(one.sum() * other.sum())), 1e-9))
    return whole, float((cross[patterned] < 0.5 * energy[patterned]).mean())


def place(before: Evidence, after: Evidence, alignment: Alignment) -> Iterator[Reason]:
    """Whether the paint itself says that both show one place."""
    if alignment.by == "marks":
        return
    pieces = min(before.view.line_pieces, after.view.line_pieces)
    best = max(alignment.texture_sureness, alignment.marks_sureness)
    pattern = min(before.view.pattern, after.view.pattern)
    if pieces >= MARKS_TO_MATCH and alignment.marks_sureness < NO_MATCH:
        sentence = (
            f"The marks do not lie on each other ({fit_words(alignment.marks_sureness)}; marks of one place "
            f"reach {NO_MATCH:g}) though each photograph shows {pieces} or more: it is another panel or "
            "another place, or every mark is new; photograph the same spot again."
        )
        yield Reason(
            topic="place", verdict="no", sentence=sentence, value=alignment.marks_sureness, limit=NO_MATCH
        )
    elif alignment.by == "hotspot" and best < NO_MATCH and pattern >= PATTERN_TO_MATCH:
        sentence = (
            f"Neither marks nor orange peel lie on each other ({fit_words(best)}; one place "
            f"reaches {NO_MATCH:g}) though both photographs show the paint's texture: it is another "
            "panel or another place; photograph the same spot again."
        )
        yield Reason(topic="place", verdict="no", sentence=sentence, value=best, limit=NO_MATCH)
    elif alignment.by == "hotspot":
        sentence = (
            f"Too few marks and too little texture are left to confirm the place ({fit_words(best)}; "
            f"{SURE:g} is needed); the hotspots were laid on each other, so make sure that both "
            "photographs show the same spot."
        )
        yield Reason(topic="place", verdict="with care", sentence=sentence, value=best, limit=SURE)


def overlap(before: Evidence, after: Evidence, *, common_area_cm2: float) -> Iterator[Reason]:
    """How much of the zone both photographs share."""
    smaller = min(before.area_cm2, after.area_cm2)
    if smaller <= 0:
        return
    share = min(1.0, common_area_cm2 / smaller)
    yield from beyond(
        "place",
        1 - share,
        UNCOMMON_SHARE,
        lambda limit: (
            f"Only {100 * share:.0f} % of the smaller zone is in both photographs (at least "
            f"{100 * (1 - limit):.0f} % is wanted); aim camera and lamp at the same place."
        ),
    )
    if before.calibrated and common_area_cm2 < MIN_COMMON_CM2:
        sentence = (
            f"The photographs share only {common_area_cm2:.1f} cm² (at least {MIN_COMMON_CM2:g} is wanted); "
            "step back or aim the lamp again."
        )
        yield Reason(
            topic="place",
            verdict="with care",
            sentence=sentence,
            value=common_area_cm2,
            limit=MIN_COMMON_CM2,
        )


def scale(before: Evidence, after: Evidence, alignment: Alignment) -> Iterator[Reason]:
    """Whether both scales are known, near each other, and true to the paint."""
    if before.calibrated != after.calibrated:
        known = "before" if before.calibrated else "after"
        sentence = f"Only the {known} photograph has a scale; give one for both, or lay the card in both."
        yield Reason(topic="scale", verdict="no", sentence=sentence)
        return
    if not before.calibrated:
        sentence = "No scale is known, so both were taken to be shot from one distance; give a scale."
        yield Reason(topic="scale", verdict="with care", sentence=sentence)
    ratio = after.px_per_mm / before.px_per_mm
    yield from beyond(
        "scale",
        abs(math.log(ratio)),
        SCALE_STEPS,
        lambda limit: (
            f"The after photograph has {ratio:.2f} times the pixels for a millimetre (limit "
            f"{math.exp(limit):.2f} either way), so finer marks show in one of them; keep the distance."
        ),
    )
    error = abs(alignment.scale - 1)
    yield from beyond(
        "scale",
        error if before.calibrated else 0.0,
        SCALE_ERROR,
        lambda limit: (
            f"The paint says that the two scales are {100 * error:.1f} % off each other (limit "
            f"{100 * limit:.1f} %); figures after were corrected for it: give each photograph its own "
            "scale, or lay the card in both."
        ),
    )


def fit_words(sureness: float) -> str:
    """How much better the best fit is than the next best.

    Examples
    --------
    >>> fit_words(1.23), fit_words(0.0)
    ('1.2 times the next best fit', 'no place fits')
    """
    return f"{sureness:.1f} times the next best fit" if sureness >= 0.05 else "no place fits"
