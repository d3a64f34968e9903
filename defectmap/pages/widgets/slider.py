"""Before and after on top of each other with a bar to move: two pictures and a range input of the browser.

The input is the browser's own, so it works with fingers, mouse and arrow keys; nothing is sent meanwhile.
"""

from __future__ import annotations

from defectmap.pages.browser import component
from defectmap.pages.images import data_uri


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
    component("slider")(data={"before": data_uri(before), "after": data_uri(after), "words": words}, key=key)
