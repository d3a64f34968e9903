"""Where lengths come from: the printed card, or a figure that is typed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import streamlit as st

if TYPE_CHECKING:
    from collections.abc import Sequence

    from defectmap.trade.facts import PhotographRecord
    from defectmap.words.writer import Writer

CARD, PIXELS, WIDTH = "Printed card in the picture", "Pixels per {unit}", "Width of the picture, {unit}"
NO_SCALE = "Without a card in the picture lengths are in pixels, and every figure says uncalibrated."
USUAL_PPM, USUAL_WIDTH_MM = 16.0, 120.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedScale:
    """A scale as it was typed; neither where the card gives it."""

    px_per_mm: float | None = None
    field_width_mm: float | None = None


def scale_choice(
    now: TypedScale, *, key: str, writer: Writer, ways: Sequence[str] = (CARD, PIXELS, WIDTH)
) -> TypedScale:
    """Draw the choice.

    Parameters
    ----------
    now : TypedScale
        What it shows at first.
    key : str
        Begins the names of its fields.
    writer : Writer
        In whose units it is typed.
    ways : sequence of str
        Which ways are offered.
    """
    start = PIXELS if now.px_per_mm else WIDTH if now.field_width_mm else CARD
    at = list(ways).index(start) if start in ways else 0
    one, unit = writer.length(1.0), writer.length_unit  # what 1 mm is in the shop's unit

    def words(way: str) -> str:
        return way.format(unit=unit)

    way = st.radio("Scale", list(ways), index=at, format_func=words, key=f"{key}_scale")
    if way == PIXELS:
        value = round((now.px_per_mm or USUAL_PPM) / one, 3)
        typed = st.number_input(words(PIXELS), 0.5 / one, 500.0 / one, value, 0.5 / one, key=f"{key}_ppm")
        return TypedScale(px_per_mm=now.px_per_mm if typed == value and now.px_per_mm else typed * one)
    if way == WIDTH:
        value = round((now.field_width_mm or USUAL_WIDTH_MM) * one, 3)
        typed = st.number_input(words(WIDTH), 5.0 * one, 5000.0 * one, value, one, key=f"{key}_width")
        same = typed == value and now.field_width_mm
        return TypedScale(field_width_mm=now.field_width_mm if same else typed / one)
    st.caption(NO_SCALE)
    return TypedScale()


def scale_of(photographs: Sequence[PhotographRecord]) -> TypedScale:
    """The scale that was typed last."""
    typed = [p for p in photographs if p.px_per_mm or p.field_width_mm]
    if not typed:
        return TypedScale()
    last = max(typed, key=lambda p: p.added_at)
    return TypedScale(px_per_mm=last.px_per_mm, field_width_mm=last.field_width_mm)
