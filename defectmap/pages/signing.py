"""The customer's signature and consent: drawn on this screen, or given on paper."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

import streamlit as st

from defectmap.pages import frame
from defectmap.pages.widgets.signature import signature_field
from defectmap.record.shop_style import shop_writer
from defectmap.record.signatures import pictures_allowed, sign, signatures_of
from defectmap.record.vehicles import keeper_of, vehicle_of
from defectmap.words.page_words import plain
from defectmap.words.writer import N_

Signed = Literal["intake", "hand-over"]
WORDS: Mapping[Signed, str] = {
    "intake": N_("The damage marked here is on the car as it comes in, and this is what we agreed."),
    "hand-over": N_("I have seen the car and take it back as this paper says."),
}
PICTURES = N_("Pictures of this car, without plate or name, may be shown.")
CONSENT = {"Yes": True, "No": False}


def signing(desk: frame.Desk, what: Signed) -> None:
    """Draw it; open while nobody has signed."""
    writer = shop_writer(desk.store)
    there = [one for one in signatures_of(desk.store, desk.reference) if one.what == what]
    said = f"Signed: {there[-1].signed_by}, {writer.day(there[-1].at)}" if there else "Customer signs"
    with st.expander(plain(said), expanded=not there, icon=":material/signature:"):
        words = writer.tell(WORDS[what])
        st.markdown(plain(words))
        who = st.text_input("Name", value=_keeper(desk), max_chars=80, key=f"sign_who_{what}")
        consent = None
        if what == "intake":
            consent = st.radio(
                plain(writer.tell(PICTURES)), list(CONSENT), index=None, horizontal=True, key="sign_pictures"
            )
        done = len(there)
        drawn = signature_field(done=done, key=f"sign_{what}")
        on_paper = st.button("Signed on paper instead", key=f"sign_paper_{what}_{done}")
        if drawn is not None or on_paper:
            with frame.guarded():
                sign(desk.store, desk.reference, what, words=words, signed_by=who, picture=drawn)
                if consent is not None:
                    _consent(desk, who, drawn, given=CONSENT[consent])
                st.rerun()
        if what == "intake":
            _asked(desk)


def _consent(desk: frame.Desk, who: str, drawn: bytes | None, *, given: bool) -> None:
    words = shop_writer(desk.store).tell(PICTURES)
    sign(desk.store, desk.reference, "pictures", words=words, signed_by=who, given=given, picture=drawn)


def _asked(desk: frame.Desk) -> None:
    said = {None: "not asked yet", True: "allowed", False: "not allowed"}
    st.caption(f"Pictures of this car for advertising: {said[pictures_allowed(desk.store, desk.reference)]}.")


def _keeper(desk: frame.Desk) -> str:
    car = vehicle_of(desk.store, desk.job)
    known = None if car is None else keeper_of(desk.store, car.name)
    return "" if known is None else known.name
