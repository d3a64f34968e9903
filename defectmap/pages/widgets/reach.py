"""Within reach of a thumb and of the keyboard: on a touch screen everything that is pressed is at least 44 px
high, and what the keyboard is at has a frame that is seen.

44 px is the target size of WCAG 2.2, success criterion 2.5.5 (level AAA; level AA asks for 24 px). A mouse
sees the page as it is. Sizes and frames only: where a name below changes with Streamlit, the page looks as
without them. The frame is that of criterion 2.4.7; Streamlit gives one to buttons, not to links and switches.
The button that fills the screen with a picture would cover its words; our pictures are looked at by pinching.
Headings stand close: a laptop's screen is low, and what the page is for should be on it without scrolling.
Chosen pills would be written in blue on a tint of it, paler than those not chosen: they are filled instead.
"""

from __future__ import annotations

import streamlit as st

from defectmap.pages.browser import component, part

THUMB_PX = 44
BLUE = "#2b78c8"  # the dark theme's: a test holds it to 4.5 to 1 against white words and either page


def within_reach() -> None:
    """Ask for it; draws nothing."""
    sizes = f":root {{ --thumb: {THUMB_PX}px; --blue: {BLUE}; }}"
    st.html(f"<style>{sizes}\n{part('reach.css')}</style>")
    component("menu")(key="menu")
