"""Page: what was found on one panel, at full size; what is found wrongly is put right with one touch."""

from __future__ import annotations

from typing import Any

import streamlit as st

from defectmap.pages import frame, panel_mending, waiting
from defectmap.pages.film_shown import blind_spots, film_figures
from defectmap.pages.page_units import PageUnits, units_of
from defectmap.pages.panel_picture import marked_picture
from defectmap.pages.widgets.charts import (
    EDGES,
    length_chart,
    length_classes,
    length_words,
    ring_chart,
    ring_words,
)
from defectmap.pages.widgets.strength_bars import strength_svg, strength_words
from defectmap.panel.score_parts import ScorePart, score_parts
from defectmap.record.keeping import PhotoResult, results_of
from defectmap.trade.stages import STAGE_NAMES
from defectmap.words.mark_words import MANY
from defectmap.words.page_words import figure, plain, score_words
from defectmap.words.units import light_words, no_score_words

FIGURE_PX = 148  # two beside each other on a phone, four on half a laptop's screen
STRENGTH_PX = 460


def show() -> None:
    """Draw the page."""
    with frame.page("panel_result"):
        desk = frame.chosen_job()
        if waiting.measure_this_panel(desk):
            st.rerun()
        have = {p.history.panel.name for p in desk.look.panels if p.stages}
        left, right = st.columns(2)
        with left:
            panel = frame.chosen_panel(
                desk, only=have.__contains__, without="No photograph yet. Take some on the page Camera."
            )
        with right:
            result = _photograph(desk, panel)
        if result.refused:
            st.error(plain(result.refused), icon=":material/replay:")
            frame.to_page("camera", "Take it again")
            return
        units = units_of(desk.store, result.record)
        if result.film:
            film_figures(result.record, units)
        else:
            _figures(result.record, units)
        marked_picture(desk, result)
        if result.film:
            blind_spots(desk, result)
        frame.notes([plain(sentence) for sentence in result.record["warnings"]])
        _strength(result.record, units)
        with st.expander("Lengths, places, and what the score is made of", icon=":material/bar_chart:"):
            _more(result.record, units)
        if result.corrections:
            with st.expander(f"Corrected by hand ({len(result.corrections)})", icon=":material/undo:"):
                panel_mending.undoing(desk, result)


def _as_the_work_ran(one: PhotoResult) -> tuple[int, str, str]:
    photograph = one.photograph
    return STAGE_NAMES.index(photograph.stage), photograph.spot, photograph.added_at


def _photograph(desk: frame.Desk, panel: str) -> PhotoResult:
    results = sorted(results_of(desk.store, desk.reference, panel=panel).values(), key=_as_the_work_ran)
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


def _figures(record: Any, units: PageUnits) -> None:
    density = record["density_mm_per_cm2"]
    row = st.container(horizontal=True)  # two by two on a phone
    score, marks, longest, haze = (row.container(width=FIGURE_PX, gap="xsmall") for _ in range(4))
    score.metric("Finish score", figure(record["score"], decimals=0))
    calibrated = record["scale"]["source"] != "none"
    score.caption(
        f"{score_words(record['score'])}, out of 100"
        if record["score"] is not None
        else no_score_words(calibrated=calibrated, film=False)
    )
    marks.metric(f"Marks, {units.density_unit}", units.density(density["all"]))
    shown = [f"{name} {units.density(density[kind])}" for kind, name in MANY.items() if density[kind] > 0]
    marks.caption(", ".join(shown))
    longest.metric("Longest scratch", units.length(record["longest_scratch_mm"]))
    haze.metric("Haze, 0 to 1", figure(record["haze"], decimals=2))
    haze.caption("under one lamp")
    st.caption("Counted in this photograph's own zone; Before and after counts the common area of two.")


def _strength(record: Any, units: PageUnits) -> None:
    strength = record.get("strength_mm_per_cm2")
    if not strength:
        return
    strength = units.densities(strength)
    words = strength_words(strength, unit=units.density_unit)
    st.subheader(f"How strong the marks are, {units.density_unit}", anchor=False)
    st.image(strength_svg(strength, dark=frame.is_dark()), width=STRENGTH_PX, alt=words)


def _more(record: Any, units: PageUnits) -> None:
    left, right = st.columns(2, gap="large")
    with left:
        _lengths(record, units)
    if record.get("film"):
        return  # rings, score and the faintest mark are of one lamp place
    with right:
        _rings(record, units)
    _parts(record, units)


def _part(part: ScorePart, units: PageUnits) -> str:
    if part.unit == "mm":
        return units.length(part.figure, 1)
    if part.unit == "mm/cm²":
        return f"{units.density(part.figure)} {units.density_unit}"
    return figure(part.figure, part.unit)


def _lengths(record: Any, units: PageUnits) -> None:
    st.subheader("How long the marks are", anchor=False)
    unit = units.length_unit
    classes = length_classes(units.marks(record["marks"]), edges=EDGES[unit])
    words = length_words(classes, unit=unit)
    if classes:
        st.vega_lite_chart(
            spec=length_chart(classes, unit=unit, dark=frame.is_dark()), width="stretch", alt=words
        )
    st.markdown(plain(words))


def _rings(record: Any, units: PageUnits) -> None:
    st.subheader("Where they show", anchor=False)
    rings, names = units.rings(record["rings"]), (units.length_unit, units.density_unit)
    words = ring_words(rings, unit=names[0])
    if any(ring["density_mm_per_cm2"] for ring in rings if ring["area_cm2"] > 0):
        chart = ring_chart(rings, unit=names[0], per_area=names[1], dark=frame.is_dark())
        st.vega_lite_chart(spec=chart, width="stretch", alt=words)
    st.markdown(plain(words))


def _parts(record: Any, units: PageUnits) -> None:
    if record["score"] is not None:
        st.subheader("What the score is made of", anchor=False)
        parts = score_parts(record)
        st.table(
            {
                "What": [part.name for part in parts] + ["score"],
                "Figure": [_part(part, units) for part in parts] + [""],
                "Points": [f"−{part.points:.0f}" if part.points >= 0.5 else "0" for part in parts]
                + [f"{record['score']:.0f}"],
            },
            border="horizontal",
        )
    limit = record["detection_limit"]
    st.caption(
        "100 is a panel on which this light shows nothing. The weights are our own choice, not a "
        f"standard. The faintest bright mark seen is {light_words(limit['contrast'])} over "
        f"{units.length(limit['length_mm'], 1)}. Counted on {units.area(record['zone']['area_cm2'])}."
    )


show()
