"""Room for a thumb: on a touch screen everything that is pressed is at least 44 px high.

44 px is the target size of WCAG 2.2, success criterion 2.5.5 (level AAA; level AA asks for 24 px). A mouse
sees the page as it is. Sizes only: where a name below changes with Streamlit, the page looks as without it.
"""

from __future__ import annotations

import streamlit as st

THUMB_PX = 44
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
)
_SQUARE = (
    '[data-testid="stExpandSidebarButton"]',
    '[data-testid="stSidebarCollapseButton"] button',
    '[data-testid="stMainMenuButton"]',
    '[data-testid="stNumberInputStepDown"]',
    '[data-testid="stNumberInputStepUp"]',
)
CSS = f"""
@media (pointer: coarse) {{
  {", ".join(_HIGH)} {{ min-height: {THUMB_PX}px; }}
  {", ".join(_SQUARE)} {{ min-height: {THUMB_PX}px; min-width: {THUMB_PX}px; }}
  [data-testid="stRadioOption"], [data-testid="stCheckbox"] label {{ align-items: center; }}
  [data-testid="stTooltipIcon"] button {{ padding: 8px; margin: -8px; }}
}}
"""


def thumb_sized() -> None:
    """Ask for it; draws nothing."""
    st.html(f"<style>{CSS}</style>")
