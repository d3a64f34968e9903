"""Page: the car from above with its scores, and what is known of each panel."""

from __future__ import annotations

import streamlit as st

from defectmap.pages import frame
from defectmap.pages.entering import STEP_WORDS, enter_step, entered_line
from defectmap.pages.page_units import PageUnits
from defectmap.pages.widgets.carplan import PanelMark
from defectmap.pages.widgets.plan_touch import tapped_panel
from defectmap.pages.widgets.stage_bar import stage_bar
from defectmap.record.entries import StepSpec
from defectmap.record.notes import add_note, notes_of
from defectmap.record.overview import PanelOverview
from defectmap.record.panels import MATERIALS, REPAINTED, PanelSpec, add_panel, change_panel
from defectmap.record.progress import Part, on_every, progress_of
from defectmap.record.results import tables_of
from defectmap.record.shop_style import screen_writer
from defectmap.words.counting import counted
from defectmap.words.page_words import plain


def show() -> None:
    """Draw the page."""
    with frame.page("car"):
        desk = frame.chosen_job()
        job = desk.job
        taken_in = f"taken in {screen_writer(desk.store).day(job.created_at)}"
        facts = (job.vehicle, job.colour, job.paint, taken_in)
        st.markdown(" · ".join(plain(fact) for fact in facts if fact))
        if not desk.panels:
            st.info("No panels yet; add the first below.", icon=":material/info:")
        else:
            _plan(desk)
        with st.expander("Add a panel", icon=":material/add:"):
            _add(desk)
        with st.expander("Notes", icon=":material/edit_note:"):
            _notes(desk)


def latest_score(panel: PanelOverview) -> tuple[float | None, str | None]:
    """Mean score at the latest stage that has one, and that stage."""
    for stage in reversed(panel.stages):
        if stage.mean_score is not None:
            return stage.mean_score, stage.stage
    return None, None


def _plan(desk: frame.Desk) -> None:
    names = list(desk.panels)
    chosen = frame.current("panel", names)
    marks = [
        PanelMark(
            name=panel.history.panel.name,
            score=latest_score(panel)[0],
            chosen=panel.history.panel.name == chosen,
        )
        for panel in desk.look.panels
    ]
    left, right = st.columns([3, 2], gap="large")
    with left:
        tapped = tapped_panel(marks, aliases=frame.standard_names(desk), kind=desk.job.kind, key="car_plan")
        st.caption("Finish score, 0 to 100; the darker a panel, the more marks. Touch a panel.")
    if tapped is not None and tapped != chosen:
        frame.remember("panel", tapped)
        frame.forget_widgets("pick_panel", "spot")
        st.rerun()
    with right:
        panel = frame.chosen_panel(desk)
        _panel(desk, desk.panel(panel))


def _next(desk: frame.Desk, panel: PanelOverview) -> None:
    """One press for what usually comes next."""
    part = progress_of(panel).next
    name = panel.history.panel.name
    if part in ("wash", "decontaminate") and not on_every(desk.look.panels, part):
        st.button(
            f"{STEP_WORDS[part]}: done on every panel",
            key="car_next",
            type="primary",
            width="stretch",
            on_click=enter_step,
            args=(desk, _open_panels(desk, part), StepSpec(kind=part)),
            kwargs={"words": STEP_WORDS[part].lower()},
        )
    elif part in ("wipe", "protect"):
        st.button(
            f"{STEP_WORDS[part]}: done on {plain(name)}",
            key="car_next",
            type="primary",
            width="stretch",
            on_click=enter_step,
            args=(desk, (name,), StepSpec(kind=part)),
            kwargs={"words": STEP_WORDS[part].lower()},
        )
    elif part in ("before", "after"):
        frame.to_page("camera", f"Photograph it: {part}")
    elif part is not None:
        frame.to_page("next_step", "Enter readings" if part == "thickness" else "Next step")
    entered_line(desk)


def _open_panels(desk: frame.Desk, part: Part) -> tuple[str, ...]:
    return tuple(p.history.panel.name for p in desk.look.panels if part not in progress_of(p).done)


def _panel(desk: frame.Desk, panel: PanelOverview) -> None:
    known, writer = panel.history.panel, screen_writer(desk.store)
    stage_bar(panel)
    _next(desk, panel)
    score, stage = latest_score(panel)
    if score is not None and stage is not None:
        st.metric(f"Finish score, {frame.stage_words(stage).lower()}", f"{score:.0f} of 100")
    for entry in panel.stages:
        words = counted(entry.photographs, "photograph")
        density = entry.mean_density
        if density is not None:
            scaled = all(m.figures.calibrated for m in entry.measured)
            units = PageUnits(writer=writer, scaled=scaled)
            unit = units.density_unit if scaled else "(uncalibrated)"
            words += f", {units.density(density)} {unit} of marks"
        st.markdown(f"**{plain(frame.stage_words(entry.stage))}**: {plain(words)}")
    for words, page in (("Photograph this panel", "camera"), ("See its result", "panel_result")):
        frame.to_page(page, words)
    with st.expander("What is known of this panel"), st.form(f"car_panel_{known.id}", border=False):
        material = st.selectbox("Material", MATERIALS, index=MATERIALS.index(known.material))
        repainted = st.selectbox("Repainted", REPAINTED, index=REPAINTED.index(known.repainted))
        nail = st.checkbox("A scratch here catches a fingernail", value=known.catches_nail)
        clear = st.number_input(
            f"Clear coat in {writer.film_unit}, only from a gauge that sees layers (0: not known)",
            min_value=0.0,
            max_value=500.0 / writer.film_um,
            value=float(known.clear_coat_um or 0.0) / writer.film_um,
        )
        if st.form_submit_button("Keep"):
            with frame.guarded():
                change_panel(
                    desk.store,
                    desk.reference,
                    known.name,
                    seen_version=known.version,
                    material=material,
                    repainted=repainted,
                    catches_nail=nail,
                    clear_coat_um=clear * writer.film_um or None,
                )
                st.rerun()


def _add(desk: frame.Desk) -> None:
    standard = tables_of(desk.store).panels.get(desk.job.kind, ())
    free = [row.name for row in standard if row.name not in desk.panels]
    with st.form("car_add", border=False, clear_on_submit=True):
        known = st.selectbox("A standard panel", ["", *free], format_func=lambda name: name or "–")
        own = st.text_input("or one in your own words", max_chars=80)
        area = st.number_input("Area in m² (only for planning)", 0.05, 100.0, 1.0, 0.1)
        if st.form_submit_button("Add"):
            with frame.guarded():
                areas = {row.name: row.area_m2 for row in standard}
                name = own.strip() or known
                add_panel(desk.store, desk.reference, PanelSpec(name=name, area_m2=areas.get(name, area)))
                st.rerun()


def _notes(desk: frame.Desk) -> None:
    writer = screen_writer(desk.store)
    for note in notes_of(desk.store, desk.reference):
        where = f"{note.panel}: " if note.panel else ""
        st.markdown(f"{plain(writer.moment(note.at))} · {plain(where)}{plain(note.words)}")
    with st.form("car_note", border=False, clear_on_submit=True):
        words = st.text_area("New note", max_chars=2000)
        about = st.selectbox("About", ["the job", *desk.panels])
        if st.form_submit_button("Keep the note") and words.strip():
            with frame.guarded():
                panel = None if about == "the job" else about
                add_note(desk.store, desk.reference, words.strip(), panel=panel)
                st.rerun()


show()
