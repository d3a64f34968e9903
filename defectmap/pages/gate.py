"""The pages' own look at the door: without it they are not shown to a network."""

from __future__ import annotations

import streamlit as st

from defectmap.pages.passphrase import PassphraseError, is_open
from defectmap.pages.server import door_stands


def check_door() -> None:
    """Show nothing where a server was opened to the network without the door in front.

    Raises
    ------
    PassphraseError
        The server was started in another way than by `defectmap app --network`.
    """
    if is_open(st.get_option("server.address")) and not door_stands():
        raise PassphraseError(
            "This server is open to the network and has no door. Stop it, and start it with: "
            "defectmap app --network"
        )
