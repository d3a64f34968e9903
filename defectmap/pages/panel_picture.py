"""The photograph of a panel result with its marks, and what a touch on it does."""

from __future__ import annotations

from typing import Any

import streamlit as st

from defectmap.pages import cached, frame, panel_mending
from defectmap.pages.page_units import PageUnits, units_of
from defectmap.pages.widgets.picture import Picture, Touchable, picture
from defectmap.record.keeping import PhotoResult
from defectmap.words.coach_words import coached, place
from defectmap.words.counting import counted
from defectmap.words.mark_words import MANY, ONE

KINDS = {
    "swirl": "Swirl marks (blue, one line)",
    "scratch": "Scratches (orange, two lines)",
    "trail": "Buffer trails (green, dashes)",
    "spots": "Dust and water spots (pink)",
}
FAINT = "Fainter than the standard (thin dots)"
LARGE, LARGEST = 2.0, 6.0  # how much larger than the page it is drawn


@st.fragment
def marked_picture(desk: frame.Desk, result: PhotoResult) -> None:
    """Draw it; first what they came for, then what changes it."""
    with frame.guarded():
        _draw(desk, result)


def _draw(desk: frame.Desk, result: PhotoResult) -> None:
    marks = result.record["marks"]
    found = [k for k in KINDS if any(m["kind"] == k for m in marks)]
    found += ["spots"] if result.record["spots"] else []
    place = st.container()
    with st.container(horizontal=True):
        shown = [kind for kind in found if st.toggle(KINDS[kind], value=True, key=f"result_show_{kind}")]
        faint = result.record.get("faint_marks", ())
        with_faint = bool(faint) and st.toggle(FAINT, value=False, key="result_show_faint")
    sharper = st.session_state.get("result_sharper") == result.photograph.id
    jpeg = cached.overlay(
        result.photograph.sha256,
        result.measurement_id,
        tuple(shown),
        LARGEST if sharper else LARGE,
        desk.store,
        result,
    )
    with place:
        act, close = picture(
            Picture(
                photograph=result.photograph.id,
                state=result.measurement_id,
                jpeg=jpeg,
                width_px=result.record["photo"]["width_px"],
                height_px=result.record["photo"]["height_px"],
                alt=_alt(marks),
                marks=_touchable(result.record, shown, units_of(desk.store, result.record)),
                faint=[one["points"] for one in faint] if with_faint else (),
                said=st.session_state.pop("result_said", ""),
                can_undo=bool(result.corrections),
            ),
            key="result_picture",
        )
    if result.film:
        st.caption("Dashed: the zone in which marks count. Yellow crosses: where the lamp's reflection was.")
    else:
        st.caption("Dashed: the zone in which marks count. Yellow ring: the lamp.")
    if act is not None:
        panel_mending.do(desk, result, act)
    if close and not sharper:
        st.session_state["result_sharper"] = result.photograph.id
        st.rerun(scope="fragment")


def _alt(marks: Any) -> str:
    numbers = ", ".join(counted(sum(m["kind"] == kind for m in marks), ONE[kind]) for kind in MANY)
    return f"Photograph with lines beside the marks: {numbers}"


def _touchable(record: Any, shown: list[str], units: PageUnits) -> list[Touchable]:
    """Marks of the kinds that are shown, the longest first."""
    order = sorted(range(len(record["marks"])), key=lambda index: -record["marks"][index]["length_mm"])
    return [
        Touchable(
            index=index,
            kind=record["marks"][index]["kind"],
            words=_words(record, index, units),
            points=record["marks"][index]["points"],
        )
        for index in order
        if record["marks"][index]["kind"] in shown
    ]


def _words(record: Any, index: int, units: PageUnits) -> str:
    mark, photo = record["marks"][index], record["photo"]
    x, y = mark["points"][len(mark["points"]) // 2]
    where = coached(place(x / photo["width_px"], y / photo["height_px"]))
    strong = mark.get("equivalent_width_um")
    strength = f", {strong:.0f} µm strong" if strong else ""
    length = units.length(mark["length_mm"])
    return f"{ONE[mark['kind']].capitalize()}, {length}{strength}, {where}. It is really a …"
