"""Entering what was done: one press books it once, says so with the time, and offers to take it back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

import streamlit as st

from defectmap.errors import DefectmapError
from defectmap.pages import frame
from defectmap.record.entries import EntryKind, StepSpec, add_step, set_aside
from defectmap.record.thickness_entries import Unit, add_readings
from defectmap.record.worktimes import clocked
from defectmap.words.page_words import plain
from defectmap.words.stage_words import told_gates

STEP_WORDS = {
    "wash": "Wash",
    "decontaminate": "Decontaminate",
    "correct": "Correct (machine polish)",
    "wipe": "Solvent wipe",
    "fill": "Filler or glaze",
    "protect": "Protect",
}
PRESS_S = 5.0  # the same entry within so long is a second press of the same button
KEY = "entered"
WITHDRAWN = "taken back at once"


@dataclass(frozen=True, slots=True, kw_only=True)
class Entered:
    """What was entered last, for the line that says so."""

    words: str
    what: EntryKind
    ids: tuple[str, ...]
    warnings: tuple[str, ...] = field(default=())
    problem: str | None = None


def enter_step(
    desk: frame.Desk, panels: Sequence[str], spec: StepSpec, *, words: str, spot: str | None = None
) -> None:
    """Book a step on panels; to be called at the start of a run, as `on_click`, where no press is lost."""
    from defectmap.record.results import tables_of

    ladder = tables_of(desk.store).ladder_keys
    minutes = st.session_state.pop("next_minutes", None)
    if minutes:
        spec = replace(spec, minutes=minutes / len(panels))  # typed once for all of them
    try:
        steps = {
            name: add_step(
                desk.store,
                desk.reference,
                name,
                clocked(desk.store, desk.reference, name, spec),
                spot=spot,
                ladder=ladder,
                once_within_s=PRESS_S,
            )
            for name in panels
        }
    except DefectmapError as error:
        _say(Entered(words=words, what="step", ids=(), problem=str(error)))
        return
    frame.forget("stage")  # what was done decides at which stage the next photograph is taken
    frame.forget_widgets("photographs_stage")
    at = max(step.at for step in steps.values())
    where = panels[0] if len(panels) == 1 else f"{len(panels)} panels"
    on = f"spot {spot} of {where}" if spot else where
    warnings = told_gates((w for step in steps.values() for w in step.warnings), audience="page")
    ids = tuple(step.id for step in steps.values())
    _say(Entered(words=f"{words}, {on}, {clock(at)}", what="step", ids=ids, warnings=warnings))


def enter_readings(
    desk: frame.Desk,
    panel: str,
    readings: Sequence[tuple[str, tuple[float, ...]]],
    *,
    unit: Unit,
    sure: bool = False,
) -> bool:
    """Book readings place by place; whether they were taken."""
    ids: list[str] = []
    at = ""
    try:
        for place, values in readings:
            kept = add_readings(
                desk.store, desk.reference, panel, place, values, unit=unit, sure=sure, once_within_s=PRESS_S
            )
            ids += [one.id for one in kept]
            at = kept[-1].at
    except DefectmapError as error:
        _say(Entered(words="", what="reading", ids=tuple(ids), problem=str(error)))
        return False
    _say(Entered(words=f"{len(ids)} readings, {panel}, {clock(at)}", what="reading", ids=tuple(ids)))
    return True


def entered_line(desk: frame.Desk) -> None:
    """What was entered last, with its undo beside it."""
    last: Entered | None = st.session_state.get(KEY)
    if last is None:
        return
    if last.problem:
        st.error(plain(last.problem), icon=":material/error:")
    if last.ids:
        with st.container(horizontal=True, vertical_alignment="center"):
            st.markdown(f":material/check: **Entered:** {plain(last.words)}", width="content")
            st.button("Undo", key="entered_undo", on_click=_take_back, args=(desk, last))
    frame.notes([plain(sentence) for sentence in last.warnings])


def clock(at: str) -> str:
    """The time of a moment in UTC on this computer's clock, to the minute."""
    return datetime.fromisoformat(at).astimezone().strftime("%H:%M")


def _say(entered: Entered) -> None:
    st.session_state[KEY] = entered


def _take_back(desk: frame.Desk, last: Entered) -> None:
    for one in last.ids:
        set_aside(desk.store, desk.reference, last.what, one, why=WITHDRAWN)
    st.session_state.pop(KEY, None)
