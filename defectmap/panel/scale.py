"""Pixels for a millimetre: typed, from the width of the view, or from the printed card in the picture."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from defectmap.errors import ScaleError
from defectmap.panel import tuning
from defectmap.panel.measurement import Scale
from defectmap.panel.photo.photograph import Photo
from defectmap.words.remark import Remark


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FoundCard:
    """The printed scale card, as one picture shows it."""

    scale: Scale
    polygon: NDArray[np.float64]  # (N, 2) row, column: what to mask; may reach beyond the picture
    tilt_deg: float
    warnings: tuple[Remark, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ResolvedScale:
    """The scale to measure with, and the card to mask."""

    scale: Scale
    card: NDArray[np.float64] | None  # (N, 2) row, column
    warnings: tuple[Remark, ...] = ()


def from_typed(px_per_mm: float) -> Scale:
    """A scale that a person typed.

    Raises
    ------
    ScaleError
        Not a number, or outside `MIN_PX_PER_MM`..`MAX_PX_PER_MM`.

    Examples
    --------
    >>> from_typed(20).px_per_mm
    20.0
    """
    _check_number(px_per_mm, "px per mm")
    if not tuning.MIN_PX_PER_MM <= px_per_mm <= tuning.MAX_PX_PER_MM:
        raise ScaleError(
            f"{px_per_mm:g} px per mm cannot be a photograph of paint; give a value from "
            f"{tuning.MIN_PX_PER_MM:g} to {tuning.MAX_PX_PER_MM:g}, or the width of the view in mm."
        )
    return Scale(px_per_mm=float(px_per_mm), source="typed")


def from_field_width(mm: float, width_px: int) -> Scale:
    """A scale from the millimetres of panel that the picture shows from its left to its right edge.

    Parameters
    ----------
    mm : float
        Width of the view.
    width_px : int
        Width of the upright picture.

    Raises
    ------
    ScaleError
        Not a number, or a width that gives an impossible scale for this picture.

    Examples
    --------
    >>> from_field_width(120, 2400).px_per_mm
    20.0
    """
    _check_number(mm, "field width in mm")
    px_per_mm = width_px / mm
    if not tuning.MIN_PX_PER_MM <= px_per_mm <= tuning.MAX_PX_PER_MM:
        raise ScaleError(
            f"A view {mm:g} mm wide cannot be right for a picture of {width_px} px; give a width from "
            f"{width_px / tuning.MAX_PX_PER_MM:.0f} to {width_px / tuning.MIN_PX_PER_MM:.0f} mm."
        )
    return Scale(px_per_mm=px_per_mm, source="field-width")


def from_card(photo: Photo) -> FoundCard | None:
    """The scale from the printed card, or None where the picture shows none.

    The scale is that of the card's plane in the middle of the picture where three markers or more are seen,
    else that at the markers. Quick where there is no card, so it can run on every photograph.
    """
    from defectmap.panel.cardfinder import find_card

    pose = find_card(photo.rgb, photo.luminance, focal_px=photo.focal_px)
    if pose is None or not tuning.MIN_PX_PER_MM <= pose.px_per_mm <= tuning.MAX_PX_PER_MM:
        return None
    warnings = []
    if pose.markers < tuning.MIN_MARKERS:
        warnings.append(Remark(code="scale-rough", values={"markers": pose.markers}))
    if pose.tilt_deg > tuning.TILT_LIMIT_DEG:
        known = math.isfinite(pose.scale_spread)
        values = {"tilt_deg": pose.tilt_deg, "limit_deg": tuning.TILT_LIMIT_DEG}
        spread = {"spread": pose.scale_spread} if known else {}
        warnings.append(Remark(code="tilted" if known else "tilted-far", values={**values, **spread}))
    return FoundCard(
        scale=Scale(px_per_mm=pose.px_per_mm, source="card", tilt_deg=pose.tilt_deg),
        polygon=pose.outline,
        tilt_deg=pose.tilt_deg,
        warnings=tuple(warnings),
    )


def resolve(
    photo: Photo, *, px_per_mm: float | None = None, field_width_mm: float | None = None
) -> ResolvedScale:
    """Choose the scale: typed, then field width, then the card in the picture, then none.

    A card in the picture is masked in every case; its tilt and its disagreement with a given scale are told.

    Raises
    ------
    ScaleError
        A scale was given that cannot be right.
    """
    given = None
    if px_per_mm is not None:
        given = from_typed(px_per_mm)
    elif field_width_mm is not None:
        given = from_field_width(field_width_mm, photo.facts.width_px)
    found = from_card(photo)
    if found is None:
        if given is not None:
            return ResolvedScale(scale=given, card=None)
        unknown = Remark(code="scale-unknown")
        return ResolvedScale(scale=Scale(px_per_mm=1.0, source="none"), card=None, warnings=(unknown,))
    if given is None:
        return ResolvedScale(scale=found.scale, card=found.polygon, warnings=found.warnings)
    return ResolvedScale(
        scale=Scale(px_per_mm=given.px_per_mm, source=given.source, tilt_deg=found.tilt_deg),
        card=found.polygon,
        warnings=(*_disagreement(given, found.scale), *found.warnings),
    )


def _check_number(value: float, what: str) -> None:
    if not (math.isfinite(value) and value > 0):
        raise ScaleError(f"The {what} must be a number above 0, not {value:g}.")


def _disagreement(given: Scale, card: Scale) -> tuple[Remark, ...]:
    share = given.px_per_mm / card.px_per_mm - 1
    if abs(share) <= tuning.DISAGREEMENT_LIMIT:
        return ()
    values = {"given": given.px_per_mm, "card": card.px_per_mm, "share": abs(share)}
    return (Remark(code="scales-disagree", values=values),)
