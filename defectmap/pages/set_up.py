"""Page: how well this shop's photographs repeat, the shop's network, and its trade tables."""

from __future__ import annotations

import shutil
from pathlib import Path

import streamlit as st

from defectmap import __version__
from defectmap.comparison.setup_profile import DEFAULT_NAME, SetupProfile, find_profile, save_profile
from defectmap.errors import DefectmapError
from defectmap.pages import frame
from defectmap.pages.passphrase import SETTING, SHORTEST, hashed, is_open
from defectmap.pages.uploads import KINDS, check_file, tidy_name
from defectmap.pages.widgets.rates_form import rates_form, with_rates
from defectmap.pages.widgets.style_form import style_form
from defectmap.record.notes import put_setting, setting
from defectmap.record.shop_style import SHOP, screen_writer, shop_style
from defectmap.record.store import TABLES_FILE, Store
from defectmap.record.thickness_entries import UNITS
from defectmap.trade.tables import SHIPPED, load_tables
from defectmap.words.comparison_words import WARNINGS
from defectmap.words.page_words import figure, plain
from defectmap.words.remark import sentence

FEWEST_SHOTS, MOST_SHOTS = 3, 12


def show() -> None:
    """Draw the page."""
    with frame.page("set_up", with_job=False):
        store = frame.the_store()
        repeat, network, tables, about = st.tabs(["Repeatability", "Network", "Tables", "Shop and record"])
        with repeat, frame.guarded():
            _repeatability(store)
        with network, frame.guarded():
            _network(store)
        with tables, frame.guarded():
            _tables(store)
        with about, frame.guarded():
            _about(store)


def _repeatability(store: Store) -> None:
    profile = find_profile(None)
    if profile is None:
        st.info(
            "No profile yet. Until you measure one, a scatter is assumed, and every comparison says so.",
            icon=":material/info:",
        )
    else:
        _profile(profile)
    st.markdown(
        f"Photograph one spot {FEWEST_SHOTS} to {MOST_SHOTS} times, five or more is better. Put lamp and "
        "phone down and set up again each time, as between before and after. How far the figures then "
        "scatter is how small a change you can prove."
    )
    one, unit = screen_writer(store).length(1.0), screen_writer(store).length_unit
    width = st.number_input(
        f"Width of the picture, {unit} (0: a printed card is in it)", 0.0, 5000.0 * one, 0.0
    )
    files = st.file_uploader(
        "Photographs of the one spot", type=list(KINDS), accept_multiple_files=True, key="set_up_repeats"
    )
    ready = files is not None and FEWEST_SHOTS <= len(files) <= MOST_SHOTS
    if files and not ready:
        st.warning(f"Choose {FEWEST_SHOTS} to {MOST_SHOTS} photographs; you chose {len(files)}.")
    if st.button("Measure the repeatability", type="primary", disabled=not ready) and files:
        made = _measured_profile([(f.name, f.getvalue()) for f in files], width / one or None)
        save_profile(made)
        st.rerun()


def _measured_profile(files: list[tuple[str, bytes]], width_mm: float | None) -> SetupProfile:
    from defectmap.comparison.compare import Shot, align_shots, measured_shot
    from defectmap.comparison.repeating import repeat_profile
    from defectmap.panel.photo.photograph import load

    bar = st.progress(0.0, text="Measuring …")
    shots: list[Shot] = []
    for number, (name, data) in enumerate(files, start=1):
        check_file(data, tidy_name(name))
        shots.append(measured_shot(load(data, name=tidy_name(name)), field_width_mm=width_mm))
        bar.progress(number / (len(files) + 1), text=f"Measured {number} of {len(files)}")
    alignments = [align_shots(shots[0], shot) for shot in shots[1:]]
    bar.empty()
    return repeat_profile([shot.measured for shot in shots], alignments, name=DEFAULT_NAME)


def _profile(profile: SetupProfile) -> None:
    st.table(
        {
            "Figure": list(profile.figures),
            "Scatter of one photograph": [f"{100 * f.relative:.1f} %" for f in profile.figures.values()],
            "Smallest change that one photograph a side proves": [
                figure(f.smallest_change_percent, "%", decimals=0) for f in profile.figures.values()
            ],
        },
        border="horizontal",
    )
    st.caption(plain(f"From {profile.shots} photographs, {profile.taken or 'time not known'}."))
    for warning in profile.warnings:
        st.warning(plain(sentence(warning, WARNINGS, audience="page")), icon=":material/priority_high:")


def _network(store: Store) -> None:
    if is_open(st.get_option("server.address")):
        st.warning("Other devices can connect after entering the passphrase.")
    else:
        st.success("Only this computer can reach these pages.", icon=":material/lock:")
    st.markdown(
        "To use a phone, open them to the shop's own network: set a passphrase here, stop the program, "
        "and start it with `defectmap app --network`. It shows a code for the phone's camera. The "
        "connection is encrypted; even so keep to the shop's own network, and never forward its port to the "
        "internet."
    )
    there = setting(store, SETTING) is not None
    st.markdown("A passphrase is set." if there else "No passphrase is set.")
    if is_open(st.get_option("server.address")):
        st.caption(
            "It can only be changed on the computer itself, while the pages are closed to the network."
        )
        return
    with st.form("set_up_passphrase", border=False, clear_on_submit=True):
        words = st.text_input(f"New passphrase, {SHORTEST} characters or more", type="password")
        again = st.text_input("Once more", type="password")
        if st.form_submit_button("Set it", type="primary"):
            if words != again:
                st.error("The two differ; type it again.")
            else:
                put_setting(store, SETTING, hashed(words))
                st.session_state["set_up_done"] = True
                st.rerun()
    if st.session_state.pop("set_up_done", False):
        st.success("The passphrase is set. Only a hash of it is kept; nobody can read it back.")


def _tables(store: Store) -> None:
    own = store.own_tables
    st.markdown(
        "Every figure of trade practice that the program uses (film, removal of each step, times, rates) "
        "stands in one file. The shipped ones are common practice without a published source; make them "
        "your own. Product labels and local rules come first."
    )
    try:
        trade = load_tables(own)
    except DefectmapError as error:
        st.error(plain(error))
        trade = load_tables()
    rates = rates_form(trade.rates, currency=shop_style(store).currency)
    if rates is not None:
        _keep_tables(store, with_rates(_text(own), rates))
    writer = screen_writer(store)
    st.table(
        {
            "Correction step, gentlest first": [plain(rung.name) for rung in trade.ladder],
            "Takes, each set": [writer.films(r.removal_um.low, r.removal_um.high) for r in trade.ladder],
        },
        border="horizontal",
    )
    text = _text(own)
    with st.expander("Edit the tables", icon=":material/edit:"), st.form("set_up_tables", border=False):
        changed = st.text_area("tables.toml", text, height=420, key=f"set_up_tables_{len(text)}")
        if st.form_submit_button("Check and keep", type="primary"):
            _keep_tables(store, changed)


def _text(own: Path) -> str:
    return (own if own.exists() else SHIPPED).read_text(encoding="utf-8")


def _keep_tables(store: Store, text: str) -> None:
    own = store.own_tables
    tried = own.with_name(f"{TABLES_FILE}.new")
    tried.write_text(text, encoding="utf-8")
    try:
        load_tables(tried)
        if own.exists():
            shutil.copyfile(own, own.with_name(f"{TABLES_FILE}.before"))
        tried.replace(own)
        store.originals.share(TABLES_FILE)
    finally:
        tried.unlink(missing_ok=True)
    st.rerun()


def _about(store: Store) -> None:
    known = setting(store, SHOP, {}) or {}
    with st.form("set_up_shop", border=False):
        name = st.text_input("Name of the shop, for reports", known.get("name", ""), max_chars=80)
        unit = st.radio(
            "Unit of your thickness gauge",
            list(UNITS),
            index=list(UNITS).index(known.get("unit", "um")),
            format_func={"um": "µm", "mil": "mil"}.__getitem__,
            horizontal=True,
        )
        lamp = st.text_input("Your inspection lamp, in your words", known.get("lamp", ""), max_chars=120)
        camera = st.text_input("Your camera, in your words", known.get("camera", ""), max_chars=120)
        if st.form_submit_button("Keep", type="primary"):
            put_setting(
                store,
                SHOP,
                {**known, "name": name.strip(), "unit": unit, "lamp": lamp.strip(), "camera": camera.strip()},
            )
            st.rerun()
    style_form(store)
    st.caption(
        f"Version {__version__}. The record lies in {plain(store.place)}: copy all of that to keep a copy."
    )
    st.caption("Light or dark is chosen in the menu at the upper right, under Settings.")


show()
