"""Files given on the photographs' page: one goes to its spot at once, several are shown first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import streamlit as st

from defectmap.pages import background_run, frame
from defectmap.pages.images import preview_jpeg
from defectmap.pages.photo_places import earlier_photograph, spots_of
from defectmap.pages.uploads import KINDS, MOST_FILES, MOST_MEGABYTES, Aim, Taken, take_in, too_many
from defectmap.pages.widgets.scale_choice import TypedScale
from defectmap.record.intake import photographs_of
from defectmap.record.results import panel_words
from defectmap.record.spotting import Given, Proposal, propose_spots
from defectmap.words.counting import counted
from defectmap.words.page_words import plain
from defectmap.words.stage_words import told_gates

WHY_WORDS = {
    "name": "its name says so",
    "overlap": "it shows the same place as the photograph before",
    "time": "by the time it was taken",
    "order": "by its order",
}
THUMB_PX = 132


def giving(desk: frame.Desk, panel: str, stage: str, *, scale: TypedScale) -> None:
    """Where files are given; what is given is kept, or proposed first where there are several."""
    turn = st.session_state.setdefault("photographs_turn", 0)
    photographs = photographs_of(desk.store, desk.reference, panel=panel)
    spots = spots_of(photographs)
    there = {p.spot for p in photographs if p.stage == stage}
    free = [spot for spot in spots if spot not in there]
    frame.to_page("camera", "Take them with the camera")
    files: list[Any] = (
        st.file_uploader(
            f"Photographs or films of {plain(panel)}, {frame.stage_words(stage).lower()}",
            type=list(KINDS),
            accept_multiple_files=True,
            key=f"photographs_files_{turn}",
            help="JPEG, HEIC, PNG, TIFF or WebP, or a film of one spot while the lamp moves (MP4, MOV); "
            f"up to {MOST_FILES} files of {MOST_MEGABYTES} MB. They stay "
            "on the computer that runs this page.",
        )
        or []
    )
    aim = Aim(
        panel=panel,
        stage=stage,
        spot=free[0] if free else spots[-1],
        px_per_mm=scale.px_per_mm,
        field_width_mm=scale.field_width_mm,
        by_name=bool(st.session_state.get("photographs_by_name")),
    )
    if len(files) == 1 or (files and aim.by_name):
        _keep(desk, [(file, aim) for file in files], turn)
    elif files:
        _proposed(desk, files, aim, turn, free)


def _proposed(desk: frame.Desk, files: Sequence[Any], aim: Aim, turn: int, free: Sequence[str]) -> None:
    photographs = photographs_of(desk.store, desk.reference, panel=aim.panel)
    spots = spots_of(photographs)
    earlier = {spot: earlier_photograph(photographs, spot=spot, stage=aim.stage) for spot in spots}
    before = {spot: desk.store.originals.local(p.sha256) for spot, p in earlier.items() if p is not None}
    key = f"photographs_proposed_{turn}_{len(files)}_{aim.panel}_{aim.stage}"
    if key not in st.session_state:
        given = [Given(name=file.name, data=file.getvalue()) for file in files[:MOST_FILES]]
        st.session_state[key] = propose_spots(
            given, free, before=before, panels=panel_words(desk.store, desk.reference)
        )
    proposals: tuple[Proposal, ...] = st.session_state[key]
    choices = [*dict.fromkeys([*spots, *(one.spot for one in proposals)])]
    st.markdown("**Which spot does each show?**")
    chosen: list[str] = []
    row = st.container(horizontal=True)
    for number, (file, one) in enumerate(zip(files, proposals, strict=False)):
        with row.container(width=THUMB_PX, gap="xsmall"):
            small = preview_jpeg(file.getvalue())
            if small is not None:
                st.image(small, width="stretch", alt=f"File {one.name}")
            chosen.append(
                st.selectbox(
                    f"Spot of {plain(one.name)}",
                    choices,
                    index=choices.index(one.spot),
                    key=f"{key}_{number}",
                    help=WHY_WORDS[one.why].capitalize(),
                )
            )
    st.caption("; ".join(dict.fromkeys(f"spot proposed because {WHY_WORDS[one.why]}" for one in proposals)))
    if st.button(f"Keep {counted(len(proposals), 'photograph')}", type="primary", key=f"{key}_keep"):
        aims = [replace(aim, spot=spot) for spot in chosen]
        late = [Taken(name=file.name, problem=too_many(file.name)) for file in files[MOST_FILES:]]
        _keep(desk, list(zip(files, aims, strict=False)), turn, late=late)


def _keep(
    desk: frame.Desk, given: Sequence[tuple[Any, Aim]], turn: int, *, late: Sequence[Taken] = ()
) -> None:
    words = panel_words(desk.store, desk.reference)
    bar = st.progress(0.0, text="Keeping the photographs …")
    taken: list[Taken] = []
    for number, (file, aim) in enumerate(given, start=1):
        if number > MOST_FILES:
            taken.append(Taken(name=file.name, problem=too_many(file.name)))
            continue
        taken.append(take_in(desk.store, desk.reference, file.name, file.getvalue(), aim, panels=words))
        background_run.start(desk.store, desk.reference)  # the first is measured while the others are kept
        bar.progress(number / len(given), text=f"Kept {number} of {len(given)}")
    st.session_state["photographs_taken"] = [*taken, *late]
    st.session_state["photographs_turn"] = turn + 1
    st.rerun()


def said_of_taken() -> None:
    """What became of the files given last."""
    taken: list[Taken] = st.session_state.pop("photographs_taken", [])
    st.session_state["photographs_said"] = taken
    for one in taken:
        if one.problem:
            st.error(plain(one.problem), icon=":material/error:")
    new = sum(one.new for one in taken)
    again = sum(one.photograph is not None and not one.new for one in taken)
    if new:
        places = {
            f"{t.photograph.panel}, {frame.stage_words(t.photograph.stage)}, spot {t.photograph.spot}"
            for t in taken
            if t.photograph and t.new
        }
        st.success(f"Kept {counted(new, 'photograph')}: {plain('; '.join(sorted(places)))}.")
    if again:
        st.info(f"{counted(again, 'photograph')} already in this job.")
    _crowded(taken)
    gates = (w for t in taken if t.photograph for w in t.photograph.warnings)
    for sentence in sorted(told_gates(gates, audience="page")):
        st.warning(plain(sentence), icon=":material/priority_high:")


def say_again() -> None:
    """Keep what was said for one drawing more: the page draws itself anew when measuring ends."""
    st.session_state["photographs_taken"] = st.session_state.get("photographs_said", [])


def _crowded(taken: Sequence[Taken]) -> None:
    new_at = Counter(
        (t.photograph.panel, t.photograph.stage, t.photograph.spot) for t in taken if t.photograph and t.new
    )
    for (panel, stage, spot), number in new_at.items():
        if number > 1:
            st.warning(
                f"{number} photographs at spot {plain(spot)} of {plain(panel)}, "
                f"{plain(frame.stage_words(stage).lower())}: only the latest counts for the next step. If "
                "they show different spots, give each its own below.",
                icon=":material/priority_high:",
            )
