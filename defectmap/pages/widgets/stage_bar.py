"""Where a panel is in the job, and what is missing: the usual parts of the work in one line."""

from __future__ import annotations

import html

import streamlit as st

from defectmap.record.overview import PanelOverview
from defectmap.record.progress import PARTS, PanelProgress, Part, progress_of
from defectmap.words.guide import FEWEST_SPOTS

PART_WORDS: dict[Part, str] = {
    "wash": "Wash",
    "decontaminate": "Decon",
    "before": "Before",
    "thickness": "Thickness",
    "test spot": "Test spot",
    "correct": "Correct",
    "wipe": "Wipe",
    "after": "After",
    "protect": "Protect",
}
DONE, NEXT, OPEN = "✓", "▶", "○"  # a sign beside the colour, for those who tell colours badly
BLUE = "#1d4e89"


def stage_bar(panel: PanelOverview) -> None:
    """Draw it."""
    st.html(bar_html(progress_of(panel)))


def bar_html(progress: PanelProgress) -> str:
    """The bar as a list; it wraps where the page is narrow.

    Examples
    --------
    >>> "▶ Decon" in bar_html(PanelProgress(done=frozenset({"wash"}), spots_before=0, spots_after=0))
    True
    """
    items = "".join(
        f'<li style="{_style(part, progress)}">{html.escape(words_of(part, progress))}</li>' for part in PARTS
    )
    return (
        '<ol aria-label="Where this panel is" style="display:flex;flex-wrap:wrap;gap:4px;list-style:none;'
        f'padding:0;margin:0">{items}</ol>'
    )


def words_of(part: Part, progress: PanelProgress) -> str:
    """Sign and name of a part, with spots where some are missing.

    Examples
    --------
    >>> words_of("before", PanelProgress(done=frozenset({"before"}), spots_before=1, spots_after=0))
    '▶ Before 1/3'
    """
    sign = NEXT if part == progress.next else DONE if part in progress.done else OPEN
    spots = {"before": progress.spots_before, "after": progress.spots_after}.get(part, 0)
    some = f" {spots}/{FEWEST_SPOTS}" if 0 < spots < FEWEST_SPOTS else ""
    return f"{sign} {PART_WORDS[part]}{some}"


def _style(part: Part, progress: PanelProgress) -> str:
    base = "padding:3px 9px;border-radius:12px;font-size:0.85rem;white-space:nowrap;margin:0;"
    if part == progress.next:
        return f"{base}border:2.5px solid #2b78c8;font-weight:700"
    if part in progress.done:
        return f"{base}background:{BLUE};color:#fff;border:1.5px solid {BLUE}"
    return f"{base}border:1.5px dashed #7a828c"
