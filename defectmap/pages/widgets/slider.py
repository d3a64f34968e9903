"""Before and after on top of each other with a bar to move: two pictures and a range input of the browser.

The input is the browser's own, so it works with fingers, mouse and arrow keys; nothing is sent meanwhile.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import streamlit as st

from defectmap.pages.images import data_uri

NAME = "defectmap_before_after"
HTML = """
<div class="frame">
  <img class="after">
  <img class="before">
  <div class="bar"></div>
  <span class="tag left">Before</span><span class="tag right">After</span>
</div>
<input type="range" min="0" max="100" value="50" aria-label="Share of the picture that shows before">
"""
CSS = """
:host { display: block; max-width: 640px; }
.frame { position: relative; overflow: hidden; border-radius: 6px; touch-action: pan-y; }
img { display: block; width: 100%; height: auto; user-select: none; pointer-events: none; }
img.before { position: absolute; inset: 0; clip-path: inset(0 50% 0 0); }
.bar { position: absolute; top: 0; bottom: 0; left: 50%; width: 3px; margin-left: -1.5px; background: #fff;
       box-shadow: 0 0 0 1px #000; }
.tag { position: absolute; top: 8px; padding: 2px 8px; border-radius: 4px; background: #000c; color: #fff;
       font: 15px system-ui, sans-serif; }
.left { left: 8px; } .right { right: 8px; }
input { width: 100%; height: 44px; margin: 0; accent-color: #2f6fb5; }
"""
# Words and pictures come in as data and are set as properties: nothing of them is ever read as HTML.
JS = """
export default function (component) {
  const { data, parentElement } = component;
  const find = (what) => parentElement.querySelector(what);
  const [before, after, bar, input] = [find("img.before"), find("img.after"), find(".bar"), find("input")];
  before.src = data.before;
  after.src = data.after;
  before.alt = data.words;
  after.alt = "";
  const move = () => {
    before.style.clipPath = `inset(0 ${100 - input.value}% 0 0)`;
    bar.style.left = `${input.value}%`;
  };
  input.addEventListener("input", move);
  // The picture itself is the handle too: a finger wipes from before to after.
  const frame = find(".frame");
  const wipe = (event) => {
    if (event.type === "pointermove" && !event.buttons) return;
    const at = frame.getBoundingClientRect();
    input.value = Math.round(100 * (event.clientX - at.left) / at.width);
    move();
  };
  frame.addEventListener("pointerdown", wipe);
  frame.addEventListener("pointermove", wipe);
  move();
  return () => {
    input.removeEventListener("input", move);
    frame.removeEventListener("pointerdown", wipe);
    frame.removeEventListener("pointermove", wipe);
  };
}
"""


@cache
def _component() -> Any:
    return st.components.v2.component(NAME, html=HTML, css=CSS, js=JS)


def compare_slider(before: bytes, after: bytes, *, words: str, key: str = "before_after_slider") -> None:
    """Draw it.

    Parameters
    ----------
    before, after : bytes
        JPEGs of the same size.
    words : str
        What they show, for those who do not see it.
    key : str
        Of the widget.
    """
    _component()(
        data={"before": data_uri(before), "after": data_uri(after), "words": words},
        key=key,
    )
