"""Where lengths come from: the printed card, or a figure that is typed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import streamlit as st

if TYPE_CHECKING:
    from collections.abc import Sequence

    from defectmap.trade.facts import PhotographRecord

CARD, PIXELS, WIDTH = "Printed card in the picture", "Pixels per millimetre", "Width of the picture, mm"
NO_SCALE = "Without a card in the picture lengths are in pixels, and every figure says uncalibrated."
USUAL_PPM, USUAL_WIDTH_MM = 16.0, 120.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedScale:
    """A scale as it was typed; neither where the card gives it."""

    px_per_mm: float | None = None
    field_width_mm: float | None = None


def scale_choice(now: TypedScale, *, key: str, ways: Sequence[str] = (CARD, PIXELS, WIDTH)) -> TypedScale:
    """Draw the choice.

    Parameters
    ----------
    now : TypedScale
        What it shows at first.
    key : str
        Begins the names of its fields.
    ways : sequence of str
        Which ways are offered.
    """
    start = PIXELS if now.px_per_mm else WIDTH if now.field_width_mm else CARD
    at = list(ways).index(start) if start in ways else 0
    way = st.radio("Scale", list(ways), index=at, key=f"{key}_scale")
    if way == PIXELS:
        value = now.px_per_mm or USUAL_PPM
        return TypedScale(px_per_mm=st.number_input(PIXELS, 0.5, 500.0, value, 0.5, key=f"{key}_ppm"))
    if way == WIDTH:
        value = now.field_width_mm or USUAL_WIDTH_MM
        return TypedScale(field_width_mm=st.number_input(WIDTH, 5.0, 5000.0, value, 1.0, key=f"{key}_width"))
    st.caption(NO_SCALE)
    return TypedScale()


def scale_of(photographs: Sequence[PhotographRecord]) -> TypedScale:
    """The scale that was typed last."""
    typed = [p for p in photographs if p.px_per_mm or p.field_width_mm]
    if not typed:
        return TypedScale()
    last = max(typed, key=lambda p: p.added_at)
    return TypedScale(px_per_mm=last.px_per_mm, field_width_mm=last.field_width_mm)
