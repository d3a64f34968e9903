"""The server's own process: the pages as an ASGI application behind the door.

    python -m defectmap.pages.server --address localhost --port 8501

`defectmap app` starts it; the record and the first one-time word come through the environment.
"""

from __future__ import annotations

import argparse
import os
from pathlib import Path

from defectmap.pages.door import Door, Lock
from defectmap.pages.passphrase import PassphraseError, is_open
from defectmap.pages.upload_limit import UploadLimit, held_by_streamlit
from defectmap.record.store import open_store

WORD_VARIABLE = "DEFECTMAP_ENTRY_WORD"
MAIN = Path(__file__).resolve().with_name("main.py")

_stands = False  # whether this process serves the pages behind the door


def check_door() -> None:
    """The pages' own look at the door: nothing is shown to a network without one in front.

    Raises
    ------
    PassphraseError
        The server was started in another way than by `defectmap app --network`.
    """
    import streamlit as st

    if is_open(st.get_option("server.address")) and not _stands:
        raise PassphraseError(
            "This server is open to the network and has no door. Stop it, and start it with: "
            "defectmap app --network"
        )


def main() -> None:
    """Serve until it is stopped."""
    import streamlit as st
    from starlette.middleware import Middleware

    global _stands
    parser = argparse.ArgumentParser()
    parser.add_argument("--address", required=True)
    parser.add_argument("--port", type=int, required=True)
    parser.add_argument("--certificate")
    parser.add_argument("--key")
    asked = parser.parse_args()
    lock = Lock(open_store()) if is_open(asked.address) else None
    if lock is not None and (word := os.environ.pop(WORD_VARIABLE, "")):
        lock.add_word(word)
    _stands = True
    middleware = [Middleware(Door, lock=lock), Middleware(UploadLimit, held_bytes=held_by_streamlit)]
    settings: dict[str, object] = {
        "server.address": asked.address,
        "server.port": asked.port,
        "server.headless": True,
        "browser.gatherUsageStats": False,
        # Else it asks a server on the internet for this computer's public address, only to print it.
        "browser.serverAddress": "localhost",
        "logger.level": "error",
    }
    if asked.certificate:
        settings |= {"server.sslCertFile": asked.certificate, "server.sslKeyFile": asked.key}
    if is_open(asked.address):
        # It is called by whatever name or address it has in the network; the door has looked at both.
        settings["server.allowedHosts"] = ["*"]
    st.App(MAIN, middleware=middleware).run(config=settings)


if __name__ == "__main__":
    # The pages import this module by its name: the door must be known there, and not to a second copy of it.
    from defectmap.pages import server

    server.main()
