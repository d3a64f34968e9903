"""Page: the live camera, spot by spot and panel by panel, with the photograph before to line up with."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

import streamlit as st

from defectmap.pages import background_run, frame
from defectmap.pages.cached import ghost
from defectmap.pages.film_shown import film_doing
from defectmap.pages.photo_places import earlier_photograph, spots_of, usual_stage
from defectmap.pages.uploads import Aim, Taken, take_in
from defectmap.pages.widgets.livecamera import CameraShot, live_camera
from defectmap.pages.widgets.scale_choice import CARD, WIDTH, TypedScale, scale_choice
from defectmap.record.intake import photographs_of
from defectmap.record.keeping import PhotoResult, results_of
from defectmap.record.shop_style import screen_writer
from defectmap.record.store import Store
from defectmap.trade.coach import coach
from defectmap.trade.facts import PhotographRecord
from defectmap.trade.stages import STAGE_NAMES
from defectmap.words.camera_words import FILM_ELSEWHERE, way_words
from defectmap.words.coach_words import VERDICTS, coached
from defectmap.words.page_words import plain

GLARE = "Never look into the lamp or at its reflection in the paint; look at the screen."


def show() -> None:
    """Draw the page."""
    with frame.page("camera"):
        desk = frame.chosen_job()
        if not desk.panels:
            raise frame.PageError("This job has no panels yet. Add some on the page Car and panels.")
        panel = frame.current("panel", desk.panels)
        stage = frame.current("stage", [usual_stage(desk, panel), *STAGE_NAMES])
        photographs = photographs_of(desk.store, desk.reference, panel=panel)
        spots = spots_of(photographs)
        spot = _spot(photographs, stage, spots)
        results = results_of(desk.store, desk.reference, panel=panel)
        before = earlier_photograph(photographs, spot=spot, stage=stage)
        scale = _scale_before(results, before)
        st.markdown(
            f"**{plain(panel.capitalize())}** · {plain(frame.stage_words(stage))} · spot {plain(spot)} "
            f"of {len(spots)}"
        )
        shot = live_camera(
            None if before is None else ghost(before.sha256, desk.store.originals.local(before.sha256)),
            aim=json.dumps([panel, stage, spot]),
            said=st.session_state.pop("camera_said", ""),
            key="camera_live",
        )
        if shot is not None:
            _keep(desk, shot, scale)
        _taken(desk, panel, stage)
        _where(desk, panel, spots, spot)
        _settings(desk, panel, stage, scale)
        st.caption(f"{GLARE} {FILM_ELSEWHERE}")


def _spot(photographs: Sequence[PhotographRecord], stage: str, spots: Sequence[str]) -> str:
    """The spot that is chosen; else the first that has no photograph at this stage."""
    chosen = st.session_state.get("spot") or st.query_params.get("spot")
    if chosen in spots:
        return str(chosen)
    there = {p.spot for p in photographs if p.stage == stage}
    return next((spot for spot in spots if spot not in there), spots[-1])


def _scale_before(results: Mapping[str, PhotoResult], before: PhotographRecord | None) -> TypedScale:
    if "camera_typed" in st.session_state:
        typed: TypedScale = st.session_state["camera_typed"]
        return typed
    found = None if before is None else results.get(before.id)
    if found is None or found.refused or before is None or not (before.px_per_mm or before.field_width_mm):
        return TypedScale()
    # Lined up with the photograph before, the picture is as wide on the panel, whatever its pixels.
    return TypedScale(field_width_mm=found.field_width_mm)


def _keep(desk: frame.Desk, shot: CameraShot, scale: TypedScale) -> None:
    if st.session_state.get("camera_number") == shot.number:
        return
    st.session_state["camera_number"] = shot.number
    panel, stage, spot = json.loads(shot.aim)
    aim = Aim(panel=panel, stage=stage, spot=spot, field_width_mm=scale.field_width_mm)
    taken = take_in(desk.store, desk.reference, shot.name, shot.content, aim)
    st.session_state["camera_said"] = _said(taken, shot, spot)
    if taken.photograph is not None:
        frame.forget("spot")  # the spot counts on by itself
        background_run.start(desk.store, desk.reference)
    st.rerun()


def _said(taken: Taken, shot: CameraShot, spot: str) -> str:
    if taken.problem:
        return taken.problem
    return f"Spot {spot} kept. {way_words(shot.way, *taken.size_px)}."


def _taken(desk: frame.Desk, panel: str, stage: str) -> None:
    """What became of the photographs taken here, as it comes in."""
    run = background_run.run_of(desk.store, desk.reference)
    going = run is not None and run.going
    st.fragment(_verdicts, run_every=1.0 if going else None)(desk, panel, stage, going)


def _verdicts(desk: frame.Desk, panel: str, stage: str, was_going: bool) -> None:
    photographs = photographs_of(desk.store, desk.reference, panel=panel)
    results = results_of(desk.store, desk.reference, panel=panel)
    for photograph in (p for p in photographs if p.stage == stage):
        st.markdown(_verdict(desk.store, photograph, photographs, results))
    run = background_run.run_of(desk.store, desk.reference)
    if was_going and (run is None or not run.going):
        st.rerun()


def _verdict(
    store: Store,
    photograph: PhotographRecord,
    photographs: Sequence[PhotographRecord],
    results: Mapping[str, Any],
) -> str:
    spot = f"**Spot {plain(photograph.spot)}**"
    if photograph.id not in results:
        return f"{spot}: measuring …{film_doing(store, photograph)}"
    before = earlier_photograph(photographs, spot=photograph.spot, stage=photograph.stage)
    earlier = results[before.id].record if before is not None and before.id in results else None
    said = coach(results[photograph.id].record, earlier=earlier)
    first = f": {plain(coached(said.to_do[0].remark))}" if said.to_do else ""
    return f"{spot}: {VERDICTS[said.level]}{first}"


def _where(desk: frame.Desk, panel: str, spots: Sequence[str], spot: str) -> None:
    picked = st.segmented_control("Spot", spots, default=spot, key=f"camera_spot_{panel}_{spot}")
    if picked is not None and picked != spot:
        st.session_state["spot"] = picked
        st.rerun()
    at = desk.panels.index(panel)
    following = desk.panels[(at + 1) % len(desk.panels)]
    if following != panel:
        st.button(
            f"Next panel: {plain(following)}",
            key="camera_next",
            icon=":material/arrow_forward:",
            width="stretch",
            on_click=_go_to,
            args=(following,),
        )


def _go_to(panel: str) -> None:
    frame.remember("panel", panel)
    frame.forget("spot")
    frame.forget_widgets("pick_panel")


def _settings(desk: frame.Desk, panel: str, stage: str, scale: TypedScale) -> None:
    with st.expander("Panel, stage and scale", icon=":material/tune:"):
        new_panel = st.selectbox(
            "Panel", desk.panels, index=desk.panels.index(panel), key=f"camera_panel_{panel}"
        )
        new_stage = frame.stage_choice(stage, key=f"camera_stage_{stage}")
        st.session_state["camera_typed"] = scale_choice(
            scale, key="camera", writer=screen_writer(desk.store), ways=(CARD, WIDTH)
        )
        if (new_panel, new_stage) != (panel, stage):
            st.session_state["stage"] = new_stage
            _go_to(new_panel)
            st.rerun()


show()
