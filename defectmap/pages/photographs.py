"""Page: take photographs in, many at once or one by one, and say at once what to do better."""

from __future__ import annotations

from collections import Counter
from typing import Any

import streamlit as st

from defectmap.pages import frame
from defectmap.pages.cached import guide_sheet, preview, scale_card
from defectmap.pages.uploads import KINDS, MOST_FILES, MOST_MEGABYTES, Aim, Taken, move, take_in
from defectmap.pages.widgets.phonecamera import phone_camera
from defectmap.record.entries import set_aside
from defectmap.record.intake import Place, photographs_of
from defectmap.record.keeping import PhotoResult, results_of
from defectmap.trade.facts import PhotographRecord
from defectmap.trade.stages import STAGE_NAMES, STAGES
from defectmap.words.coach import Coaching, coach, summary
from defectmap.words.counting import counted
from defectmap.words.guide import CAUTIONS, IN_SHORT
from defectmap.words.page_words import plain

LEVELS = {
    "good": (":material/check_circle:", "green"),
    "better": (":material/tips_and_updates:", "orange"),
    "again": (":material/replay:", "red"),
}
SCALES = ("Printed card in the picture", "Pixels for a millimetre", "Width of the picture in mm")


def show() -> None:
    """Draw the page."""
    with frame.page("photographs"):
        desk = frame.chosen_job()
        _guide()
        aim = _aim(desk)
        _take(desk, aim)
        if frame.measure_what_is_missing(desk):
            st.rerun()
        _messages()
        _kept(desk, aim)


def _guide() -> None:
    """How to photograph, to read here or to print."""
    with st.expander("How to take the photograph", icon=":material/lightbulb:"):
        st.markdown("\n".join(f"{number}. {words}" for number, words in enumerate(IN_SHORT, start=1)))
        st.markdown("\n".join(f"- **{item.lead}.** {item.words}" for item in CAUTIONS.items))
        left, right = st.columns(2)
        for column, label, name, data in (
            (left, "Guide to print", "guide.pdf", guide_sheet),
            (right, "Scale card to print", "card.pdf", scale_card),
        ):
            column.download_button(
                label,
                data,  # drawn when it is asked for
                file_name=name,
                mime="application/pdf",
                icon=":material/download:",
                on_click="ignore",
                key=f"photographs_{name}",
            )


def _aim(desk: frame.Desk) -> Aim:
    left, right = st.columns(2)
    with left:
        panel = frame.chosen_panel(desk)
    with right:
        stages = list(STAGE_NAMES)
        stage = st.selectbox(
            "Stage",
            stages,
            index=stages.index(st.session_state.get("stage", _usual_stage(desk, panel))),
            format_func=frame.stage_words,
            key="photographs_stage",
            help="; ".join(f"{frame.stage_words(one.name)}: {one.meaning}" for one in STAGES),
        )
    st.session_state["stage"] = stage
    with st.expander("Spot, scale, and sorting by file name"):
        spot = st.text_input(
            "Spot on the panel",
            value="1",
            max_chars=40,
            key="photographs_spot",
            help="The same place keeps its name at every stage. Three spots a panel are better than one.",
        )
        ppm, width = _scale(desk)
        by_name = st.toggle(
            "Let file names decide",
            key="photographs_by_name",
            help="A name such as left-front-door_wiped_spot2 says panel, stage and spot; what it leaves "
            "open is taken from above.",
        )
    return Aim(
        panel=panel,
        stage=stage,
        spot=spot.strip() or "1",
        px_per_mm=ppm,
        field_width_mm=width,
        by_name=by_name,
    )


def _usual_stage(desk: frame.Desk, panel: str) -> str:
    look = next(p for p in desk.look.panels if p.history.panel.name == panel)
    return look.stage or "decontaminated"


def _scale(desk: frame.Desk) -> tuple[float | None, float | None]:
    known = [p.px_per_mm for p in photographs_of(desk.store, desk.reference) if p.px_per_mm]
    way = st.radio("Scale", SCALES, index=1 if known else 0, key="photographs_scale")
    if way == SCALES[1]:
        start = float(known[-1]) if known else 16.0
        return st.number_input(SCALES[1], 0.5, 500.0, start, 0.5, key="photographs_ppm"), None
    if way == SCALES[2]:
        return None, st.number_input(SCALES[2], 5.0, 5000.0, 120.0, 1.0, key="photographs_width")
    st.caption("Without a card in the picture lengths are in pixels, and every figure says uncalibrated.")
    return None, None


def _take(desk: frame.Desk, aim: Aim) -> None:
    turn = st.session_state.setdefault("photographs_turn", 0)
    files = st.file_uploader(
        f"Photographs of {plain(aim.panel)}, {frame.stage_words(aim.stage).lower()}",
        type=list(KINDS),
        accept_multiple_files=True,
        key=f"photographs_files_{turn}",
        help="JPEG, HEIC, PNG, TIFF or WebP.",
    )
    shot = phone_camera("Take one with the phone's camera", key=f"photographs_shot_{turn}")
    st.caption(
        f"Up to {MOST_FILES} files of {MOST_MEGABYTES} MB. They are kept unchanged on the computer that "
        "runs this page, and go nowhere else. Never look into the lamp or its reflection."
    )
    given: list[Any] = [*(files or []), *([shot] if shot is not None else [])]
    if not given:
        return
    words = frame.panel_words(desk)
    bar = st.progress(0.0, text="Keeping the photographs …")
    taken: list[Taken] = []
    for number, file in enumerate(given[:MOST_FILES], start=1):
        taken.append(take_in(desk.store, desk.reference, file.name, file.getvalue(), aim, panels=words))
        bar.progress(number / len(given), text=f"Kept {number} of {len(given)}")
    taken += [
        Taken(
            name=file.name, problem=f"{file.name}: only {MOST_FILES} files are taken at once; give it again."
        )
        for file in given[MOST_FILES:]
    ]
    st.session_state["photographs_taken"] = taken
    st.session_state["photographs_turn"] = turn + 1
    st.rerun()


def _messages() -> None:
    taken: list[Taken] = st.session_state.pop("photographs_taken", [])
    for one in taken:
        if one.problem:
            st.error(plain(one.problem), icon=":material/error:")
    new = sum(one.new for one in taken)
    again = sum(one.photograph is not None and not one.new for one in taken)
    if new:
        st.success(f"Kept {counted(new, 'photograph')}.", icon=":material/check:")
    if again:
        st.info(f"{counted(again, 'photograph')} were already in this job.")
    places = {(t.photograph.panel, t.photograph.stage, t.photograph.spot) for t in taken if t.photograph}
    if len(places) > 1:
        st.markdown(
            "\n".join(
                f"- {plain(t.name)} → {plain(t.photograph.panel)}, "
                f"{plain(frame.stage_words(t.photograph.stage))}, spot {plain(t.photograph.spot)}"
                for t in taken
                if t.photograph
            )
        )
    new_at = Counter(
        (t.photograph.panel, t.photograph.stage, t.photograph.spot) for t in taken if t.photograph and t.new
    )
    for (panel, stage, spot), number in new_at.items():
        if number > 1:
            st.warning(
                f"{number} photographs stand at spot {plain(spot)} of {plain(panel)}, "
                f"{plain(frame.stage_words(stage).lower())}, and only the latest of them counts for the next "
                "step. If they show different spots, move each to its own below.",
                icon=":material/priority_high:",
            )
    for sentence in sorted({w for t in taken if t.photograph for w in t.photograph.warnings}):
        st.warning(plain(sentence), icon=":material/priority_high:")


def _kept(desk: frame.Desk, aim: Aim) -> None:
    photographs = [p for p in photographs_of(desk.store, desk.reference) if p.panel == aim.panel]
    results = results_of(desk.store, desk.reference, panel=aim.panel)
    here = [p for p in photographs if p.stage == aim.stage]
    st.subheader(
        f"{plain(aim.panel.capitalize())}, {plain(frame.stage_words(aim.stage).lower())}", anchor=False
    )
    if not here:
        others = sorted({frame.stage_words(p.stage) for p in photographs})
        st.markdown(
            "No photograph here yet." + (f" There are some of: {plain(', '.join(others))}." if others else "")
        )
        return
    coached = {
        p.id: coach(results[p.id].record, earlier=earlier_record(p, photographs, results))
        for p in here
        if p.id in results
    }
    if coached:
        st.markdown(f"**{summary(list(coached.values()))}**")
    for photograph in here:
        _one(desk, photograph, results.get(photograph.id), coached.get(photograph.id))


def earlier_record(
    photograph: PhotographRecord, photographs: list[PhotographRecord], results: dict[str, PhotoResult]
) -> Any:
    """Record of the latest photograph of the same spot at an earlier stage; None where there is none."""
    at = STAGE_NAMES.index(photograph.stage)
    before = [
        p
        for p in photographs
        if p.spot == photograph.spot and STAGE_NAMES.index(p.stage) < at and p.id in results
    ]
    before.sort(key=lambda p: (p.stage == "decontaminated", p.added_at))
    return results[before[-1].id].record if before else None


def _one(
    desk: frame.Desk, photograph: PhotographRecord, result: PhotoResult | None, coaching: Coaching | None
) -> None:
    with st.container(border=True):
        picture, words = st.columns([1, 2])
        small = preview(photograph.sha256, desk.store.originals.path(photograph.sha256))
        if small is not None:
            picture.image(small, width="stretch", alt=f"Photograph {photograph.name}, spot {photograph.spot}")
        else:
            picture.caption("No preview")
        with words:
            st.markdown(f"**{plain(photograph.name)}** · spot {plain(photograph.spot)}")
            if coaching is None:
                st.markdown("Not measured yet.")
            else:
                _coaching(coaching)
            if result is not None and not result.refused and result.record["score"] is not None:
                st.caption(f"Score {result.record['score']:.0f} of 100")
            with st.popover("Wrong place, or not to be used", icon=":material/more_horiz:"):
                _mend(desk, photograph)


def _coaching(coaching: Coaching) -> None:
    icon, colour = LEVELS[coaching.level]
    st.markdown(f":{colour}[{icon}] **{coaching.verdict}**")
    for remark in coaching.to_do:
        st.markdown(f"- {plain(remark.sentence)}")
    fine = [remark for remark in coaching.remarks if remark.level == "good"]
    if fine:
        with st.expander("What is good about it"):
            for remark in fine:
                st.markdown(f"- {plain(remark.sentence)}")


def _mend(desk: frame.Desk, photograph: PhotographRecord) -> None:
    key = photograph.id
    panel = st.selectbox(
        "Panel", desk.panels, index=desk.panels.index(photograph.panel), key=f"to_panel_{key}"
    )
    stages = list(STAGE_NAMES)
    stage = st.selectbox(
        "Stage",
        stages,
        index=stages.index(photograph.stage),
        format_func=frame.stage_words,
        key=f"to_stage_{key}",
    )
    spot = st.text_input("Spot", value=photograph.spot, max_chars=40, key=f"to_spot_{key}")
    if st.button("Move it there", key=f"move_{key}"):
        place = Place(
            panel=panel,
            stage=stage,
            spot=spot.strip() or "1",
            px_per_mm=photograph.px_per_mm,
            field_width_mm=photograph.field_width_mm,
        )
        with frame.guarded():
            move(desk.store, desk.reference, photograph, place)
            st.rerun()
    why = st.text_input("Or say why it is not to be used", key=f"why_{key}", max_chars=200)
    if st.button("Remove from figures", key=f"aside_{key}"):
        with frame.guarded():
            set_aside(desk.store, desk.reference, "photograph", photograph.id, why=why)
            st.rerun()


show()
