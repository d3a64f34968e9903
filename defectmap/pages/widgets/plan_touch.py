"""The vehicle's plan under a finger: one panel is opened by touching it, or several are chosen."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from defectmap.pages.browser import component, keeper, taken_up
from defectmap.pages.widgets.carplan import PanelMark, plan_svg


def tapped_panel(
    panels: Sequence[PanelMark], *, aliases: Mapping[str, str], kind: str, key: str
) -> str | None:
    """Draw the plan of a job; the panel that was touched since it was last asked."""
    names = [panel.name for panel in panels]
    component("plan")(
        data={
            "svg": plan_svg(panels, aliases=aliases, kind=kind),
            "names": names,
            "many": False,
            "chosen": [panel.name for panel in panels if panel.chosen],
        },
        key=key,
        on_panel_change=keeper(key, "panel"),
        on_panels_change=lambda: None,
    )
    name = taken_up(key, "panel")
    return name if name in names else None


def chosen_panels(names: Sequence[str], *, kind: str, key: str) -> tuple[str, ...]:
    """Draw the plan of a vehicle that comes in, nothing chosen at first; the panels touched so far."""
    marks = [PanelMark(name=name, score=None, words="") for name in names]
    found = component("plan")(
        data={
            "svg": plan_svg(marks, aliases={}, kind=kind),
            "names": list(names),
            "many": True,
            "chosen": [],
        },
        key=key,
        on_panel_change=lambda: None,
        on_panels_change=lambda: None,
    )
    given = found.get("panels")
    chosen = given if isinstance(given, list) else []
    return tuple(name for name in names if name in chosen)
