"""Pictures that are made once: the keys are hashes of files and what was asked for, never pixels."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Literal

import streamlit as st

from defectmap.pages.images import (
    GHOST_PX,
    crop_jpegs,
    directions_jpeg,
    film_pair_jpegs,
    overlay_jpeg,
    preview_jpeg,
)
from defectmap.record.corrections import Exclusion
from defectmap.record.keeping import PhotoResult
from defectmap.record.whole import film_of, measurement_of, picture_of

if TYPE_CHECKING:
    from defectmap.comparison.outcome import SpotComparison
    from defectmap.record.store import Store

CropCentre = Literal["hotspot", "worst scratch"]


@st.cache_data(max_entries=400, show_spinner=False)
def preview(sha256: str, _path: Path) -> bytes | None:
    """A small JPEG of a kept photograph."""
    return preview_jpeg(_path)


@st.cache_data(max_entries=60, show_spinner=False)
def ghost(sha256: str, _path: Path) -> bytes | None:
    """A kept photograph as the overlay of the live camera."""
    return preview_jpeg(_path, longest_side_px=GHOST_PX)


@st.cache_data(max_entries=1, show_spinner=False)
def guide_sheet() -> bytes:
    """The capture guide to print."""
    from defectmap.report.guide_sheet import guide_pdf

    return guide_pdf()


@st.cache_data(max_entries=1, show_spinner=False)
def scale_card() -> bytes:
    """The scale card to print."""
    from defectmap.panel.card import card_pdf

    return card_pdf()


@st.cache_data(max_entries=60, show_spinner="Drawing the marks …")
def overlay(
    sha256: str, measurement_id: str, kinds: tuple[str, ...], zoom: float, _store: Store, _result: PhotoResult
) -> bytes:
    """The photograph with its marks and the areas left out; `zoom` is one of the few drawn differently."""
    return overlay_jpeg(
        picture_of(_store, _result),
        measurement_of(_store, _result),
        kinds=kinds,
        areas=[one for one in _result.corrections if isinstance(one, Exclusion)],
        zoom=zoom,
    )


@st.cache_data(max_entries=60, show_spinner="Cutting out the same piece of panel …")
def crops(
    before_sha256: str,
    after_sha256: str,
    comparison_id: str,
    number: int,
    centre: CropCentre,
    inches: bool,
    _store: Store,
    _laid: SpotComparison,
) -> tuple[bytes, bytes, str, float]:
    """The same piece of panel out of both photographs of one spot of a kept comparison."""
    before = _store.originals.read(before_sha256, name="the photograph before")
    after = _store.originals.read(after_sha256, name="the photograph after")
    return crop_jpegs(before, after, _laid, centre=centre, inches=inches)


@st.cache_data(max_entries=60, show_spinner="Drawing the directions …")
def directions(measurement_id: str, _store: Store, _result: PhotoResult) -> bytes:
    """Which directions a film could show, and where it was blind."""
    return directions_jpeg(film_of(_store, _result))


@st.cache_data(max_entries=30, show_spinner="Laying the films on each other …")
def film_pair(
    before_id: str, after_id: str, _store: Store, _before: PhotoResult, _after: PhotoResult
) -> tuple[bytes, bytes]:
    """The light of all lamp places of two films, by their measurements' identities."""
    return film_pair_jpegs(film_of(_store, _before), film_of(_store, _after))
