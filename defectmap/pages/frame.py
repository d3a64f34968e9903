"""What every page stands in: the open record, the job and panel looked at, one place where errors end."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

import streamlit as st

from defectmap.errors import DefectmapError
from defectmap.record.entries import EntryKind, set_aside
from defectmap.record.jobs import all_jobs, job_named
from defectmap.record.overview import JobOverview, PanelOverview, overview
from defectmap.record.results import tables_of
from defectmap.record.store import Store, default_place, open_store
from defectmap.trade.facts import JobRecord
from defectmap.trade.stages import STAGE_NAMES
from defectmap.trade.table_forms import Protection
from defectmap.words.counting import counted
from defectmap.words.page_words import STAGE_WORDS, plain

PAGES: Mapping[str, tuple[str, str, str]] = {
    # module: title in the menu, icon, what it is for
    "today": ("Today's jobs", ":material/today:", "Open a job, or take a car in"),
    "arrival": ("Intake", ":material/assignment:", "Vehicle, damage, what is agreed, signature"),
    "car": ("Car and panels", ":material/directions_car:", "The car at a glance"),
    "camera": ("Camera", ":material/photo_camera:", "Photograph spot by spot"),
    "photographs": ("Photographs", ":material/photo_library:", "Give files, see if they are good"),
    "panel_result": ("Panel result", ":material/search:", "What was found on one panel"),
    "next_step": ("Next step", ":material/arrow_circle_right:", "What to do next, and enter what was done"),
    "before_after": ("Before and after", ":material/compare:", "What has changed, and how sure that is"),
    "report": ("Report", ":material/description:", "What the customer takes home"),
    "papers": ("Papers", ":material/request_quote:", "Intake, quote, invoice, hand-over, care"),
    "customer": ("Customer's view", ":material/visibility:", "Before and after under one finger"),
    "set_up": ("Set-up", ":material/tune:", "Repeatability, network, tables"),
}


LAST = "papers"  # of the work; what follows is not about one car


class PageError(DefectmapError):
    """Something on a page is missing that a person can put right."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Desk:
    """What a page works with."""

    store: Store
    job: JobRecord
    look: JobOverview

    @property
    def reference(self) -> str:
        """Reference of the job."""
        return self.job.reference

    @property
    def panels(self) -> tuple[str, ...]:
        """Names of the job's panels."""
        return tuple(panel.history.panel.name for panel in self.look.panels)

    def panel(self, name: str) -> PanelOverview:
        """One of them."""
        return next(one for one in self.look.panels if one.history.panel.name == name)


@st.cache_resource(max_entries=4, show_spinner=False)
def _store(folder: str, url: str) -> Store:
    del folder, url  # they are the key: another folder or database is another record
    return open_store()


def the_store() -> Store:
    """The record of this server, opened once."""
    import os

    from defectmap.record.store import URL_VARIABLE

    folder = default_place()
    return _store(str(folder), os.environ.get(URL_VARIABLE) or "")


@contextmanager
def guarded() -> Iterator[None]:
    """Show an error that a person can put right as one sentence; anything else is a bug and shows itself."""
    try:
        yield
    except DefectmapError as error:
        st.error(plain(error), icon=":material/error:")


@contextmanager
def page(name: str, *, with_job: bool = True, heading: str = "") -> Iterator[None]:
    """Title of a page (`heading` where that is for other eyes), and the place where its errors end."""
    title, _, purpose = PAGES[name]
    st.title(heading or title, anchor=False)
    open_job = st.session_state.get("job") or st.query_params.get("job")
    st.caption(f"Job {plain(open_job)}" if with_job and open_job else purpose)
    with guarded():
        yield
    if with_job and st.session_state.get("job"):
        _onward(name)


def chosen_job() -> Desk:
    """The job that is looked at: the one opened last, the one in the address, else the latest.

    Raises
    ------
    PageError
        There is no job yet, or none of the name in the address.
    """
    store = the_store()
    references = [job.reference for job in all_jobs(store)]
    if not references:
        raise PageError("There is no job yet. Start one on the page Today's jobs.")
    asked = st.session_state.get("job") or st.query_params.get("job")
    if asked is not None and asked not in references:
        raise PageError(f"There is no job {asked}. Open one on the page Today's jobs.")
    reference = str(asked or references[0])
    remember("job", reference)
    return Desk(store=store, job=job_named(store, reference), look=overview(store, reference))


def chosen_panel(desk: Desk, *, only: Callable[[str], bool] | None = None, without: str = "") -> str:
    """The panel that is looked at, with buttons to choose another.

    Parameters
    ----------
    only : callable, optional
        Which panels to offer.
    without : str
        What to say where there is none.

    Raises
    ------
    PageError
        There is none.
    """
    names = [name for name in desk.panels if only is None or only(name)]
    if not names:
        raise PageError(without or "This job has no panels yet. Add some on the page Car and panels.")
    panel = current("panel", names)
    picked = st.selectbox(
        "Panel", names, index=names.index(panel), key="pick_panel", on_change=_keep, args=("panel",)
    )
    remember("panel", picked)
    return picked


def remember(what: str, value: str) -> None:
    """Keep a choice for the other pages, and in the address for a reload."""
    st.session_state[what] = value
    if st.query_params.get(what) != value:
        st.query_params[what] = value


def forget(what: str) -> None:
    """Let a choice go, in the address too."""
    st.session_state.pop(what, None)
    st.query_params.pop(what, None)


def forget_widgets(*keys: str) -> None:
    """Let widgets start anew, where what they showed no longer holds."""
    for key in keys:
        st.session_state.pop(key, None)


def current(what: str, known: Sequence[str]) -> str:
    """The choice that holds before its list is drawn: from the other pages, else from the address."""
    for value in (st.session_state.get(what), st.query_params.get(what)):
        if value in known:
            return str(value)
    return known[0]


def _keep(what: str) -> None:
    st.session_state[what] = st.session_state[f"pick_{what}"]


def is_dark() -> bool:
    """Whether the visitor's page is dark, for drawings of our own."""
    return getattr(st.context.theme, "type", "light") == "dark"


def stage_words(stage: str) -> str:
    """A stage as the pages call it."""
    return STAGE_WORDS.get(stage, stage.capitalize())


def stage_choice(now: str, *, key: str, help: str | None = None) -> str:
    """A list of the stages, `now` chosen at first."""
    at = STAGE_NAMES.index(now)
    return st.selectbox("Stage", STAGE_NAMES, at, format_func=stage_words, key=key, help=help)


def protection_choice(label: str, kinds: Sequence[Protection], *, key: str) -> str | None:
    """A list of protections, none chosen at first; the key of the one that is."""
    names = {kind.key: kind.name for kind in kinds}
    return st.selectbox(
        label, list(names), index=None, placeholder="Choose", format_func=names.__getitem__, key=key
    )


def to_page(name: str, words: str) -> None:
    """A large link to another page."""
    st.page_link(page_file(name), label=words, icon=PAGES[name][1])


def page_file(name: str) -> str:
    """The file of a page, as Streamlit is told of it."""
    from pathlib import Path

    return str(Path(__file__).resolve().parent / f"{name}.py")


def _onward(name: str) -> None:
    names = list(PAGES)
    at = names.index(name)
    if name != LAST and at + 1 < len(names):
        title, icon, _ = PAGES[names[at + 1]]
        st.divider()
        if st.button(f"Next: {title}", icon=icon, key=f"onward_{name}", type="primary", width="stretch"):
            st.switch_page(page_file(names[at + 1]))


def notes(sentences: Sequence[str]) -> None:
    """Sentences to be minded: the first is seen, the others are behind a door."""
    if sentences:
        st.warning(sentences[0], icon=":material/priority_high:")
    if len(sentences) > 1:
        with st.expander(f"{counted(len(sentences) - 1, 'further note')}"):
            for sentence in sentences[1:]:
                st.markdown(f"- {sentence}")


def standard_names(desk: Desk) -> dict[str, str]:
    """Other words for a panel to its standard name, for this kind of vehicle."""
    rows = tables_of(desk.store).panels.get(desk.job.kind, ())
    return {also: row.name for row in rows for also in row.also}


def file_stem(desk: Desk) -> str:
    """The job's reference as the name of a file."""
    return "".join(c if c.isalnum() or c in "-_" else "-" for c in desk.reference)


def aside_button(desk: Desk, what: EntryKind, entry_id: str, *, words: str) -> None:
    """Behind a door: take an entry out of every figure, with the reason."""
    with st.popover("Entered by mistake", width="stretch"):
        why = st.text_input("Why", key=f"why_{entry_id}", max_chars=200)
        if st.button(words, key=f"aside_{entry_id}"):
            with guarded():
                set_aside(desk.store, desk.reference, what, entry_id, why=why)
                st.rerun()
