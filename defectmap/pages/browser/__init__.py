"""What runs in the browser: one file a widget, read as it stands and never built."""

from __future__ import annotations

import base64
import binascii
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

import streamlit as st


@cache
def part(*names: str) -> str:
    """The text of one of these files, or of several after each other."""
    return "\n".join(Path(__file__).with_name(name).read_text(encoding="utf-8") for name in names)


@cache
def component(name: str, *, scripts: tuple[str, ...] = ()) -> Any:
    """A component out of `name.html`, `name.css` and `name.js`, which may use the scripts before it."""
    return st.components.v2.component(
        f"defectmap_{name}",
        html=part(f"{name}.html"),
        css=part(f"{name}.css"),
        js=part(*scripts, f"{name}.js"),
    )


def decoded(given: object, what: str) -> bytes | None:
    """A file that a browser hands over in base64 under that name; None where there is none."""
    content = given.get(what) if isinstance(given, Mapping) else None
    try:
        return base64.b64decode(content, validate=True) or None if isinstance(content, str) else None
    except (binascii.Error, ValueError):
        return None


def keeper(key: str, what: str) -> Callable[[], None]:
    """For `on_…_change`: keeps what was triggered until a page takes it up.

    What a component gives back holds for one run only; where that run ends early (`st.rerun` higher up), it
    would be lost.
    """

    def keep() -> None:
        st.session_state[f"{key}:{what}"] = st.session_state[key].get(what)

    return keep


def taken_up(key: str, what: str) -> Any:
    """What was triggered since a page last asked; None where nothing was."""
    return st.session_state.pop(f"{key}:{what}", None)
