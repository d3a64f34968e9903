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

from defectmap.pages.browser import component

THUMB_PX = 44
BLUE = "#2b78c8"  # the dark theme's: a test holds it to 4.5 to 1 against white words and either page
_HIGH = (
    '[data-testid^="stBaseButton-"]:not([data-testid$="elementToolbar"])',
    '[data-testid="stPopoverButton"]',
    '[data-testid="stButtonGroup"] button',
    '[data-testid="stExpander"] summary',
    '[data-testid="stTab"]',
    '[data-testid="stSidebarNavLink"]',
    '[data-testid="stPageLink-NavLink"]',
    '[data-testid="stRadioOption"]',
    '[data-testid="stCheckbox"] label',
    '[data-testid="stSelectbox"] input',
    '[data-testid="stTextInputRootElement"]',
    '[data-testid="stNumberInputContainer"]',
    '[data-testid="stDateInputField"]',
)
_SQUARE = (
    '[data-testid="stExpandSidebarButton"]',
    '[data-testid="stSidebarCollapseButton"] button',
    '[data-testid="stMainMenuButton"]',
    '[data-testid="stNumberInputStepDown"]',
    '[data-testid="stNumberInputStepUp"]',
)
_FRAMED = (
    '[data-testid="stSidebarNavLink"]:focus-visible',
    '[data-testid="stPageLink-NavLink"]:focus-visible',
    '[data-testid="stBaseButton-elementToolbar"]:focus-visible',
    '[data-testid="stRadioOption"]:has(:focus-visible)',
    '[data-testid="stCheckbox"] label:has(:focus-visible)',
    '[data-testid="stTab"]:focus-visible',
    '[data-testid="stHtml"] [tabindex="0"]:focus-visible',
)
CSS = f"""
@media (pointer: coarse) {{
  {", ".join(_HIGH)} {{ min-height: {THUMB_PX}px; }}
  {", ".join(_SQUARE)} {{ min-height: {THUMB_PX}px; min-width: {THUMB_PX}px; }}
  [data-testid="stRadioOption"], [data-testid="stCheckbox"] label {{ align-items: center; }}
  [data-testid="stTooltipIcon"] button {{ padding: 8px; margin: -8px; }}
}}
[data-testid="stButtonGroup"] button:is([aria-pressed="true"], [aria-checked="true"]) {{
  background: {BLUE} !important; color: #ffffff !important;
}}
[data-testid="stElementToolbar"] {{ display: none; }}
[data-testid="stMainBlockContainer"] h1 {{ padding: 0; }}
.st-key-menu {{ position: absolute; }}
{", ".join(_FRAMED)} {{ outline: 3px solid {BLUE}; outline-offset: 1px; }}
"""


def within_reach() -> None:
    """Ask for it; draws nothing."""
    st.html(f"<style>{CSS}</style>")
    component("menu")(key="menu")
