"""The server's own process: the pages as an ASGI application behind the door.

    python -m defectmap.pages.server --address localhost --port 8501

`defectmap app` starts it; the record and the first one-time word come through the environment.
"""

from __future__ import annotations

import argparse
import os
from pathlib import Path

from defectmap.pages.door import Door, Lock
from defectmap.pages.passphrase import is_open
from defectmap.pages.upload_limit import UploadLimit, held_by_streamlit
from defectmap.record.store import open_store

WORD_VARIABLE = "DEFECTMAP_ENTRY_WORD"
MAIN = Path(__file__).resolve().with_name("main.py")

_lock: Lock | None = None
_stands = False


def the_lock() -> Lock | None:
    """What opens the door to the network, if there is one; pages make new one-time words with it."""
    return _lock


def door_stands() -> bool:
    """Whether this process serves the pages behind the door."""
    return _stands


def main() -> None:
    """Serve until it is stopped."""
    import streamlit as st
    from starlette.middleware import Middleware

    global _lock, _stands
    parser = argparse.ArgumentParser()
    parser.add_argument("--address", required=True)
    parser.add_argument("--port", type=int, required=True)
    parser.add_argument("--certificate")
    parser.add_argument("--key")
    asked = parser.parse_args()
    if is_open(asked.address):
        _lock = Lock(open_store())
        if word := os.environ.pop(WORD_VARIABLE, ""):
            _lock.add_word(word)
    _stands = True
    middleware = [Middleware(Door, lock=_lock), Middleware(UploadLimit, held_bytes=held_by_streamlit)]
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
