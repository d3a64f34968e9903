"""Page: what was found on one panel, and putting right what was found wrongly."""

from __future__ import annotations

from typing import Any

import streamlit as st

from defectmap.pages import cached, frame
from defectmap.pages.images import scroll_frame
from defectmap.pages.widgets.charts import length_chart, length_classes, length_words, ring_chart, ring_words
from defectmap.panel.score_parts import score_parts
from defectmap.record.corrections import (
    NEW_KINDS,
    Correction,
    Exclusion,
    NewKind,
    Relabel,
    relabel,
)
from defectmap.record.keeping import PhotoResult, results_of
from defectmap.record.whole import correct, measurement_of
from defectmap.words.coach import place_words
from defectmap.words.counting import counted
from defectmap.words.page_words import figure, plain, score_words
from defectmap.words.units import light_words

KINDS = {
    "swirl": "Swirl marks (blue, one line)",
    "scratch": "Scratches (orange, two lines)",
    "trail": "Buffer trails (green, dashes)",
    "spots": "Dust and water spots (pink)",
}
NEW_WORDS = {
    "swirl": "swirl mark",
    "scratch": "scratch",
    "trail": "buffer trail",
    "none": "no mark in the paint",
}
MOST_LISTED = 60

FIGURE_PX = 148  # two beside each other on a phone, four on half a laptop's screen


def show() -> None:
    """Draw the page."""
    with frame.page("panel_result"):
        desk = frame.chosen_job()
        if frame.measure_what_is_missing(desk):
            st.rerun()
        have = {p.history.panel.name for p in desk.look.panels if p.stages}
        left, right = st.columns(2)
        with left:
            panel = frame.chosen_panel(
                desk, only=have.__contains__, without="No photograph yet. Take some on the page Photographs."
            )
        with right:
            result = _photograph(desk, panel)
        if result.refused:
            st.error(plain(result.refused), icon=":material/replay:")
            frame.to_page("photographs", "Take it again")
            return
        _figures(result.record)
        _picture(desk, result)
        _warnings(result.record)
        left, right = st.columns(2, gap="large")
        with left:
            _lengths(result.record)
        with right:
            _rings(result.record)
        _parts(result.record)
        _mend(desk, result)


def _photograph(desk: frame.Desk, panel: str) -> PhotoResult:
    results = list(results_of(desk.store, desk.reference, panel=panel).values())
    if not results:
        raise frame.PageError("Nothing is measured on this panel yet.")
    labels = {
        one.photograph.id: f"{frame.stage_words(one.photograph.stage)}, spot {one.photograph.spot}"
        for one in results
    }
    if len(set(labels.values())) < len(labels):  # long names are cut off on a phone
        labels |= {
            one.photograph.id: f"{labels[one.photograph.id]}: {one.photograph.name}" for one in results
        }
    ids = list(labels)
    before = st.session_state.get("photograph")
    index = ids.index(before) if before in ids else len(ids) - 1
    picked = st.selectbox(
        "Photograph", ids, index=index, format_func=labels.__getitem__, key="result_photograph"
    )
    st.session_state["photograph"] = picked
    return next(one for one in results if one.photograph.id == picked)


def _units(record: Any) -> tuple[str, str]:
    return ("mm", "mm/cm²") if record["scale"]["source"] != "none" else ("px", "px/100 px²")


def _figures(record: Any) -> None:
    length, per_area = _units(record)
    density = record["density_mm_per_cm2"]
    row = st.container(horizontal=True)  # two by two on a phone
    score, marks, longest, haze = (row.container(width=FIGURE_PX, gap="xsmall") for _ in range(4))
    score.metric("Finish score (out of 100)", "–" if record["score"] is None else f"{record['score']:.0f}")
    if record["score"] is not None:
        score.caption(score_words(record["score"]))
    marks.metric(f"Marks, {per_area}", figure(density["all"]))
    kinds = f"swirl marks {density['swirl']:.1f}, scratches {density['scratch']:.1f}"
    trails = f", buffer trails {density['trail']:.1f}" if density["trail"] > 0 else ""
    marks.caption(kinds + trails)
    longest.metric("Longest scratch", figure(record["longest_scratch_mm"], length, decimals=0))
    haze.metric("Haze", figure(record["haze"], decimals=2))
    haze.caption("only comparable under one lamp")


@st.fragment
def _picture(desk: frame.Desk, result: PhotoResult) -> None:
    found = [k for k in KINDS if k == "spots" or any(m["kind"] == k for m in result.record["marks"])]
    if not result.record["spots"]:
        found.remove("spots")
    picture = st.container()  # first what they came for, then what changes it
    with st.container(horizontal=True):
        shown = [kind for kind in found if st.toggle(KINDS[kind], value=True, key=f"result_show_{kind}")]
    zoom = st.slider("Zoom", 1.0, 6.0, 1.0, 0.5, format="%.1f times", key="result_zoom")
    jpeg = cached.overlay(
        result.photograph.sha256,
        result.measurement_id,
        tuple(shown),
        st.session_state.get("result_chosen"),
        st.session_state.get("result_box"),
        1.0 if zoom <= 1 else 2.0 if zoom < 3 else 6.0,
        desk.store,
        result,
    )
    marks = result.record["marks"]
    numbers = ", ".join(
        counted(sum(m["kind"] == kind for m in marks), NEW_WORDS[kind])
        for kind in ("swirl", "scratch", "trail")
    )
    picture.html(scroll_frame(jpeg, zoom=zoom, words=f"Photograph with lines beside the marks: {numbers}"))
    picture.caption(
        "Lines run beside the marks and never over them. The dashed white line is the zone in which marks "
        "count, the yellow ring the lamp. Zoomed in, scroll inside the picture to move about."
    )


def _warnings(record: Any) -> None:
    for sentence in record["warnings"]:
        st.warning(plain(sentence), icon=":material/priority_high:")


def _lengths(record: Any) -> None:
    length, _ = _units(record)
    st.subheader("How long the marks are", anchor=False)
    classes = length_classes(record["marks"], calibrated=length == "mm")
    words = length_words(classes, unit=length)
    if classes:
        st.vega_lite_chart(
            spec=length_chart(classes, unit=length, dark=frame.is_dark()), width="stretch", alt=words
        )
    st.markdown(plain(words))


def _rings(record: Any) -> None:
    length, per_area = _units(record)
    st.subheader("Where they show", anchor=False)
    words = ring_words(record["rings"], unit=length)
    chart = ring_chart(record["rings"], unit=length, per_area=per_area, dark=frame.is_dark())
    st.vega_lite_chart(spec=chart, width="stretch", alt=words)
    st.markdown(plain(words))


def _parts(record: Any) -> None:
    if record["score"] is None:  # without a scale
        return
    st.subheader("What the score is made of", anchor=False)
    parts = score_parts(record)
    st.table(
        {
            "What": [part.name for part in parts] + ["score"],
            "Figure": [figure(part.figure, part.unit) for part in parts] + [""],
            "Points": [f"−{part.points:.0f}" if part.points >= 0.5 else "0" for part in parts]
            + [f"{record['score']:.0f}"],
        },
        border="horizontal",
    )
    limit = record["detection_limit"]
    length, _ = _units(record)
    st.caption(
        "100 is a panel on which this light shows nothing. The weights are our own choice, not a "
        f"standard. The faintest bright mark counted is {light_words(limit['contrast'])} over "
        f"{limit['length_mm']:.1f} {length} ({limit['contrast_to_noise']:.0f} times the picture's noise). "
        f"Counted on {record['zone']['area_cm2']:.0f} {'cm²' if length == 'mm' else 'px² × 100'}."
    )


def _mend(desk: frame.Desk, result: PhotoResult) -> None:
    with st.expander("Correct a mistake", icon=":material/build:"):
        st.markdown(
            "The photograph and the program's own result stay as they are; a correction is kept beside them, "
            "counts from then on, and can be undone."
        )
        kind, area, undo = st.tabs(["A mark", "An area", f"Undo ({len(result.corrections)})"])
        with kind:
            _mend_mark(desk, result)
        with area:
            _mend_area(desk, result)
        with undo:
            _undo(desk, result)


def _mend_mark(desk: frame.Desk, result: PhotoResult) -> None:
    marks = result.record["marks"]
    order = sorted(range(len(marks)), key=lambda i: -marks[i]["length_mm"])[:MOST_LISTED]
    if not order:
        st.markdown("No mark was found.")
        return
    words = {index: _mark_words(result.record, index) for index in order}
    chosen = st.selectbox(
        "Which mark, the longest first",
        order,
        index=None,
        format_func=words.__getitem__,
        placeholder="Choose a mark",
        key=f"result_mark_{result.measurement_id}",
    )
    if chosen != st.session_state.get("result_chosen"):
        st.session_state["result_chosen"] = chosen
        st.rerun()
    if chosen is None:
        return
    st.caption("It has a white box round it in the picture above.")
    new = st.radio(
        "It is really a",
        list(NEW_KINDS),
        index=None,
        format_func=NEW_WORDS.__getitem__,
        horizontal=True,
        key="result_new_kind",
    )
    if st.button("Keep this correction", type="primary", key="result_keep_kind") and new is not None:
        measured = measurement_of(desk.store, result)
        one = relabel(measured.marks[chosen], _as_kind(new))
        _keep(desk, result, (*result.corrections, one))


def _as_kind(words: str) -> NewKind:
    return next(kind for kind in NEW_KINDS if kind == words)


def _mark_words(record: Any, index: int) -> str:
    mark, photo = record["marks"][index], record["photo"]
    x, y = mark["points"][len(mark["points"]) // 2]
    length, _ = _units(record)
    where = place_words(x / photo["width_px"], y / photo["height_px"])
    return f"{NEW_WORDS[mark['kind']]}, {mark['length_mm']:.0f} {length}, {where} (no {index + 1})"


def _mend_area(desk: frame.Desk, result: PhotoResult) -> None:
    photo = result.record["photo"]
    st.markdown("Leave out what is not paint, or not this panel: trim, a badge, a reflection of something.")
    across = st.slider("From left to right, % of the picture", 0, 100, (0, 0), key="result_across")
    down = st.slider("From top to bottom, % of the picture", 0, 100, (0, 0), key="result_down")
    box = None
    if across[1] > across[0] and down[1] > down[0]:
        width, height = photo["width_px"] / 100, photo["height_px"] / 100
        box = (across[0] * width, down[0] * height, across[1] * width, down[1] * height)
    if box != st.session_state.get("result_box"):
        st.session_state["result_box"] = box
        st.rerun()
    if box is not None and st.button("Leave this area out", type="primary", key="result_keep_area"):
        one = Exclusion(left=box[0], top=box[1], right=box[2], bottom=box[3])
        _keep(desk, result, (*result.corrections, one))


def _undo(desk: frame.Desk, result: PhotoResult) -> None:
    if not result.corrections:
        st.markdown("Nothing is corrected on this photograph.")
        return
    for number, one in enumerate(result.corrections):
        words, button = st.columns([3, 1], vertical_alignment="center")
        words.markdown(f"{number + 1}. {plain(_correction_words(one))}")
        if button.button("Undo", key=f"result_undo_{number}", width="stretch"):
            left = tuple(other for at, other in enumerate(result.corrections) if at != number)
            _keep(desk, result, left)


def _correction_words(one: Correction) -> str:
    if isinstance(one, Relabel):
        return f"a mark of {one.length_mm:.0f} is a {NEW_WORDS[one.kind]}"
    return "an area left out"


def _keep(desk: frame.Desk, result: PhotoResult, corrections: tuple[Correction, ...]) -> None:
    with frame.guarded():
        correct(desk.store, result, corrections)
        st.session_state["result_chosen"] = None
        st.session_state["result_box"] = None
        frame.forget_widgets("result_across", "result_down", "result_new_kind")
        st.rerun()


show()
