"""The door: on this computer it stands open, from the shop's network it asks for the passphrase."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import streamlit as st

from defectmap.pages.passphrase import SETTING, PassphraseError, Tries, is_open
from defectmap.record.notes import setting

if TYPE_CHECKING:
    from defectmap.record.store import Store


@st.cache_resource(show_spinner=False)
def _tries() -> Tries:
    return Tries()


def let_in(open_record: Callable[[], Store]) -> bool:
    """Whether this visitor may see the pages; draws the question for the passphrase where it is needed.

    Raises
    ------
    PassphraseError
        The server was opened to the network without a passphrase: nobody is let in.
    """
    if not is_open(st.get_option("server.address")) or st.session_state.get("let_in"):
        return True
    kept = setting(open_record(), SETTING)
    if kept is None:
        raise PassphraseError(
            "This server is open to the network and has no passphrase. Stop it, set one on the page Set-up "
            "(on the computer itself), and start it again with: defectmap app --network"
        )
    st.title("defectmap", anchor=False)
    with st.form("door"):
        words = st.text_input("Passphrase of this shop", type="password", key="door_words")
        if st.form_submit_button("Open", type="primary"):
            if _tries().attempt(words, kept):
                st.session_state["let_in"] = True
                st.rerun()
            st.error("That is not the passphrase.")
    return False
