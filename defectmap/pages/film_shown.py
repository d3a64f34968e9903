"""What pages show of a film: how far it is measured, its figures, where it was blind, the fused light."""

from __future__ import annotations

from typing import Any

import streamlit as st

from defectmap.pages import cached, frame
from defectmap.pages.page_units import PageUnits
from defectmap.pages.widgets.slider import compare_slider
from defectmap.record.filming import under_way
from defectmap.record.keeping import PhotoResult
from defectmap.record.measuring import request_of
from defectmap.record.store import Store
from defectmap.record.whole import SpotPair
from defectmap.trade.coach import blind_spot
from defectmap.trade.facts import PhotographRecord
from defectmap.trade.tuning import MOST_BLIND
from defectmap.words.coach_words import coached
from defectmap.words.counting import counted
from defectmap.words.film_words import BLIND_NOWHERE, DOING, FUSED, frames_words
from defectmap.words.page_words import figure, plain

FIGURE_PX = 148  # as on the page Panel result
PICTURE_PX = 640


def film_doing(store: Store, photograph: PhotographRecord) -> str:
    """How far a film is that is being measured, behind a word for it; empty for what is none."""
    found = under_way(request_of(store, photograph, {}).shelf) if photograph.film else None
    if found is None:
        return ""
    return f" {DOING.get(found.what, found.what)}, {found.done} of {found.whole}"


def film_figures(record: Any, units: PageUnits) -> None:
    """The figures of a film, its share of directions among them; it has no score."""
    density, film = record["density_mm_per_cm2"], record["film"]
    row = st.container(horizontal=True)
    marks, shown, longest = (row.container(width=FIGURE_PX, gap="xsmall") for _ in range(3))
    marks.metric(f"Marks, {units.density_unit}", units.density(density["all"]))
    marks.caption("of all lamp places")
    share = film["directions_share"]
    shown.metric("Directions shown, %", figure(None if share is None else 100 * share, decimals=0))
    shown.caption(frames_words(film))
    longest.metric("Longest scratch", units.length(record["longest_scratch_mm"]))
    st.caption(
        "Counted over its own zone. A film shows several times the marks of one photograph: hold it "
        "against films only."
    )


def blind_spots(desk: frame.Desk, result: PhotoResult) -> None:
    """Where the film was blind, with what to do in the next sweep, and the picture of its directions."""
    blind = result.record["film"].get("blind", ())
    st.subheader("Which directions could show", anchor=False)
    said = [coached(blind_spot(one)) for one in blind]
    for sentence in said[:MOST_BLIND]:
        st.warning(sentence, icon=":material/flashlight_on:")
    if not said:
        st.markdown(BLIND_NOWHERE)
    st.image(
        cached.directions(result.measurement_id, desk.store, result),
        width=PICTURE_PX,
        alt=f"Roses of directions over the map of the spot; {counted(len(blind), 'blind place')}",
    )
    st.caption("Each star is a place. Thin: directions of scratch that could show there. Blue: none could.")


def fused_slider(desk: frame.Desk, pair: SpotPair) -> None:
    """Before and after under one bar: the light of all lamp places of both films."""
    if pair.before.old or pair.after.old:
        st.info("Measured in an earlier way: measure the job anew to see it.", icon=":material/history:")
        return
    before, after = cached.film_pair(
        pair.before.measurement_id, pair.after.measurement_id, desk.store, pair.before, pair.after
    )
    numbers = [counted(len(one.record["marks"]), "mark") for one in (pair.before, pair.after)]
    compare_slider(before, after, words=f"Before: {numbers[0]}. After: {numbers[1]}.")
    st.caption(plain(FUSED))
