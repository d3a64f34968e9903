"""A button that opens the phone's own camera and hands its whole picture over.

The browser's file input with `capture` (W3C HTML Media Capture) starts the camera of a phone: full size, the
camera's own data, and it works without https. A picture drawn off a video in the page does not: it is only as
large as the page is wide, too few pixels to measure.
Without a touch screen the button is not shown: there it would only offer what the upload above it offers.
"""

from __future__ import annotations

import base64
import binascii
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

import streamlit as st

NAME = "defectmap_phone_camera"
MOST_MEGABYTES = 15  # it travels as one message, a third larger: 16 MB went through, 22 MB did not
HTML = """
<label class="press"><span class="words"></span>
  <input type="file" accept="image/*" capture="environment">
</label>
<p class="state" role="status"></p>
"""
CSS = """
:host { display: block; }
.press { display: flex; align-items: center; justify-content: center; min-height: 48px;
         box-sizing: border-box; padding: 4px 16px;
         border: 1px solid var(--st-border-color); border-radius: var(--st-button-radius);
         color: var(--st-text-color); background: var(--st-background-color); cursor: pointer;
         font: 0.875rem var(--st-font, system-ui, sans-serif); position: relative; overflow: hidden; }
.press:hover { border-color: var(--st-primary-color); }
.press:focus-within { outline: 3px solid var(--st-primary-color); outline-offset: 1px; }
.press.busy { opacity: 0.6; pointer-events: none; }
input { position: absolute; inset: 0; opacity: 0; cursor: pointer; font-size: 0; }
@media not (any-pointer: coarse) { .press { display: none; } }
.state { margin: 0; color: var(--st-text-color); font: 0.875rem var(--st-font, system-ui, sans-serif); }
"""
# Words come in as data and are set as text: nothing of them is ever read as HTML.
JS = """
export default function (component) {
  const { data, parentElement, setTriggerValue } = component;
  const find = (what) => parentElement.querySelector(what);
  const [press, input, state] = [find(".press"), find("input"), find(".state")];
  find(".words").textContent = data.words;
  const done = (words) => {
    press.classList.remove("busy");
    state.textContent = words;
    input.value = "";
  };
  const send = () => {
    const file = input.files[0];
    if (!file) return;
    if (file.size > data.most_bytes) {
      done(data.too_large);
      return;
    }
    press.classList.add("busy");
    state.textContent = data.sending;
    const reader = new FileReader();
    reader.onerror = () => done(data.unreadable);
    reader.onload = () => {
      setTriggerValue("shot", { name: file.name, content: String(reader.result).split(",")[1] || "" });
      done("");
    };
    reader.readAsDataURL(file);
  };
  input.addEventListener("change", send);
  return () => input.removeEventListener("change", send);
}
"""


@dataclass(frozen=True, slots=True)
class CameraShot:
    """A picture that the phone's camera has just taken, with the two things that a taken-in file needs."""

    name: str
    content: bytes

    def getvalue(self) -> bytes:
        """Its bytes, as an uploaded file gives them."""
        return self.content


@cache
def _component() -> Any:
    return st.components.v2.component(NAME, html=HTML, css=CSS, js=JS)


def phone_camera(words: str, *, key: str) -> CameraShot | None:
    """Draw the button; the picture is there in the one run after it was taken.

    Parameters
    ----------
    words : str
        On the button.
    key : str
        Of the widget.
    """
    found = _component()(
        data={
            "words": words,
            "most_bytes": MOST_MEGABYTES * 1_000_000,
            "too_large": f"The picture has more than {MOST_MEGABYTES} MB: give it by Upload above.",
            "unreadable": "The picture could not be read; take it again.",
            "sending": "Handing the picture over …",
        },
        key=key,
        on_shot_change=_nothing,  # without it the picture would not be handed on
    )
    return shot_from(found.get("shot"))


def shot_from(given: object) -> CameraShot | None:
    """What a browser hands over, checked for its shape; None where it is no picture file at all.

    Examples
    --------
    >>> shot_from({"name": "a.jpg", "content": "aGVsbG8="})
    CameraShot(name='a.jpg', content=b'hello')
    >>> shot_from({"name": "a.jpg", "content": "not base64!"}) is None
    True
    """
    if not isinstance(given, Mapping):
        return None
    name, content = given.get("name"), given.get("content")
    if not isinstance(name, str) or not isinstance(content, str) or not content:
        return None
    try:
        return CameraShot(name=name, content=base64.b64decode(content, validate=True))
    except (binascii.Error, ValueError):
        return None


def _nothing() -> None:
    """The picture is taken from what the component returns."""
