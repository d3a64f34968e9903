"""Density of marks by their strength, before and after: fine marks go first, deep ones stay."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from defectmap.report.content import StrengthRow
from defectmap.words.report_words import figure_words
from defectmap.words.writer import ENGLISH, Writer

LIMITS_UM = ("50", "100", "200", "400")  # keys of `strength_mm_per_cm2` in a result file


def strength_rows(
    before: Sequence[Mapping[str, Any]],
    after: Sequence[Mapping[str, Any]],
    *,
    calibrated: bool,
    writer: Writer = ENGLISH,
) -> tuple[StrengthRow, ...]:
    """Density of marks by strength, the mean over the spots; empty where a photograph has no such figures.

    Parameters
    ----------
    before, after : sequence of mapping
        Records of the photographs, each counted over its own zone.
    """
    found = [[one.get("strength_mm_per_cm2") for one in side] for side in (before, after)]
    if not calibrated or not all(side and all(side) for side in found):
        return ()
    rows = []
    for limit in LIMITS_UM:
        means = [math.fsum(one.get(limit) or 0.0 for one in side) / len(side) for side in found]  # type: ignore[union-attr]
        rows.append(strength_row(f"≥ {limit} µm", *means, writer=writer))
    return tuple(rows)


def mean_strength(
    panels: Sequence[Sequence[StrengthRow]], *, writer: Writer = ENGLISH
) -> tuple[StrengthRow, ...]:
    """The mean over the panels that have such figures."""
    known = [rows for rows in panels if rows]
    return tuple(
        strength_row(
            rows[0].at_least,
            math.fsum(row.before for row in rows) / len(rows),
            math.fsum(row.after for row in rows) / len(rows),
            writer=writer,
        )
        for rows in zip(*known, strict=True)
    )


def strength_row(at_least: str, before: float, after: float, *, writer: Writer = ENGLISH) -> StrengthRow:
    """A row of densities of marks of one strength."""
    texts = [figure_words("density all", value, writer=writer) for value in (before, after)]
    return StrengthRow(
        at_least=at_least, before=before, after=after, before_text=texts[0], after_text=texts[1]
    )
