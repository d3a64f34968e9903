"""Page: photographs of one panel and stage: give files, see if they are good, put right what is not."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import streamlit as st

from defectmap.pages import background_run, frame, waiting
from defectmap.pages.cached import guide_sheet, preview, scale_card
from defectmap.pages.film_shown import film_doing
from defectmap.pages.photo_giving import giving, said_of_taken, say_again
from defectmap.pages.photo_mending import mending
from defectmap.pages.photo_places import earlier_photograph, usual_stage
from defectmap.pages.widgets.scale_choice import scale_choice, scale_of
from defectmap.record.intake import photographs_of
from defectmap.record.keeping import PhotoResult, results_of
from defectmap.record.shop_style import screen_writer
from defectmap.trade.coach import Coaching, coach, summary
from defectmap.trade.facts import PhotographRecord
from defectmap.words.coach_words import VERDICTS, coached
from defectmap.words.guide import CAUTIONS, IN_SHORT
from defectmap.words.page_words import plain
from defectmap.words.stage_words import MEANINGS
from defectmap.words.writer import Writer

LEVELS = {
    "good": (":material/check_circle:", "green"),
    "better": (":material/tips_and_updates:", "orange"),
    "again": (":material/replay:", "red"),
}
LOOK_EVERY_S = 1.0


def show() -> None:
    """Draw the page."""
    with frame.page("photographs"):
        desk = frame.chosen_job()
        left, right = st.columns(2)
        with left:
            panel = frame.chosen_panel(desk)
        with right:
            stage = _stage(desk, panel)
        place = st.container()
        _scale(photographs_of(desk.store, desk.reference), screen_writer(desk.store))
        with place:
            giving(desk, panel, stage, scale=st.session_state["photographs_typed"])
            said_of_taken()
        if desk.look.unmeasured:
            background_run.start(desk.store, desk.reference)
        run = background_run.run_of(desk.store, desk.reference)
        going = run is not None and run.going
        st.fragment(_kept, run_every=LOOK_EVERY_S if going else None)(desk, panel, stage, going)
        _guide()


def _stage(desk: frame.Desk, panel: str) -> str:
    stage = frame.stage_choice(
        st.session_state.get("stage", usual_stage(desk, panel)),
        key="photographs_stage",
        help="; ".join(f"{frame.stage_words(one)}: {meaning}" for one, meaning in MEANINGS.items()),
    )
    st.session_state["stage"] = stage
    return stage


def _scale(photographs: tuple[PhotographRecord, ...], writer: Writer) -> None:
    """Below what is given, yet known before: the choice holds for the next files."""
    with st.expander("Scale, and file names", icon=":material/straighten:"):
        st.session_state["photographs_typed"] = scale_choice(
            scale_of(photographs), key="photographs", writer=writer
        )
        st.toggle(
            "Let file names decide",
            key="photographs_by_name",
            help="A name such as left-front-door_wiped_spot2 says panel, stage and spot; what it leaves "
            "open is taken from above.",
        )


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


def _kept(desk: frame.Desk, panel: str, stage: str, was_going: bool) -> None:
    """What is there, each with its verdict as soon as it is measured."""
    photographs = photographs_of(desk.store, desk.reference, panel=panel)
    results = results_of(desk.store, desk.reference, panel=panel)
    run = background_run.run_of(desk.store, desk.reference)
    here = [p for p in photographs if p.stage == stage]
    if run is not None and run.going and run.total:
        st.progress(min(1.0, run.done / run.total), text=waiting.measuring_words(run))
    st.subheader(f"{plain(panel.capitalize())}, {plain(frame.stage_words(stage).lower())}", anchor=False)
    if not here:
        others = sorted({frame.stage_words(p.stage) for p in photographs})
        also = f" There are some of: {plain(', '.join(others))}." if others else ""
        st.markdown(f"No photograph here yet.{also}")
    seen = {p.id: _coached(p, photographs, results) for p in here if p.id in results}
    if seen:
        st.markdown(f"**{coached(summary(list(seen.values())))}**")
    for photograph in here:
        _one(desk, photograph, results.get(photograph.id), seen.get(photograph.id))
    if was_going and (run is None or not run.going):
        say_again()
        st.rerun()
    for problem in run.problems if run is not None else ():
        st.error(plain(problem), icon=":material/error:")


def _coached(
    photograph: PhotographRecord, photographs: Sequence[PhotographRecord], results: Mapping[str, PhotoResult]
) -> Coaching:
    measured = [p for p in photographs if p.id in results]
    before = earlier_photograph(measured, spot=photograph.spot, stage=photograph.stage)
    return coach(results[photograph.id].record, earlier=None if before is None else results[before.id].record)


def _one(
    desk: frame.Desk, photograph: PhotographRecord, result: PhotoResult | None, coaching: Coaching | None
) -> None:
    with st.container(border=True):
        picture, words = st.columns([1, 2])
        small = preview(photograph.sha256, desk.store.originals.local(photograph.sha256))
        if small is not None:
            picture.image(small, width="stretch", alt=f"Photograph {photograph.name}, spot {photograph.spot}")
        else:
            picture.caption("No preview")
        with words:
            film = "film · " if photograph.film else ""
            st.markdown(f"**Spot {plain(photograph.spot)}** · {film}{plain(photograph.name)}")
            if coaching is None:
                st.markdown(f"Measuring …{film_doing(desk.store, photograph)}")
            else:
                _coaching(coaching)
            if result is not None and not result.refused and result.record["score"] is not None:
                st.caption(f"Score {result.record['score']:.0f} of 100")
            with st.popover("Scale, place, not to be used", icon=":material/build:"):
                mending(desk, photograph)


def _coaching(coaching: Coaching) -> None:
    icon, colour = LEVELS[coaching.level]
    st.markdown(f":{colour}[{icon}] **{VERDICTS[coaching.level]}**")
    for hint in coaching.to_do:
        st.markdown(f"- {plain(coached(hint.remark))}")
    fine = [hint for hint in coaching.remarks if hint.level == "good"]
    if fine:
        with st.expander("What is good about it"):
            for hint in fine:
                st.markdown(f"- {plain(coached(hint.remark))}")


show()
