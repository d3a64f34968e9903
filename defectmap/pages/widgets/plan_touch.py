"""The vehicle's plan under a finger: one panel is opened by touching it, or several are chosen."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from defectmap.pages.browser import component, keeper, taken_up
from defectmap.pages.widgets.carplan import Dot, PanelMark, plan_svg
from defectmap.pictures.car_shapes import HEIGHT


@dataclass(frozen=True, slots=True, kw_only=True)
class Touched:
    """A place on a panel; x and y are shares of the plan's width and height, where the vehicle has a plan."""

    panel: str
    at: tuple[float, float] | None


def tapped_panel(
    panels: Sequence[PanelMark], *, aliases: Mapping[str, str], kind: str, key: str
) -> str | None:
    """Draw the plan of a job; the panel that was touched since it was last asked."""
    _plan(panels, plan_svg(panels, aliases=aliases, kind=kind), key=key, what="panel")
    name = taken_up(key, "panel")
    return name if name in [panel.name for panel in panels] else None


def chosen_panels(names: Sequence[str], *, kind: str, key: str) -> tuple[str, ...]:
    """Draw the plan of a vehicle that comes in, nothing chosen at first; the panels touched so far."""
    marks = _unmarked(names)
    given = _plan(marks, plan_svg(marks, aliases={}, kind=kind), key=key, what="panels").get("panels")
    return tuple(name for name in names if isinstance(given, list) and name in given)


def touched_place(
    names: Sequence[str], *, aliases: Mapping[str, str], kind: str, dots: Sequence[Dot], key: str
) -> Touched | None:
    """Draw the plan with what is marked on it; the place that was touched since it was last asked."""
    marks = _unmarked(names)
    _plan(marks, plan_svg(marks, aliases=aliases, kind=kind, dots=dots), key=key, what="place")
    return touched_from(taken_up(key, "place"), names, on_plan=kind == "car")


def _unmarked(names: Sequence[str]) -> list[PanelMark]:
    return [PanelMark(name=name, score=None, words="") for name in names]


def _plan(
    marks: Sequence[PanelMark], svg: str, *, key: str, what: Literal["panel", "panels", "place"]
) -> Any:
    """Draw a plan on which panels are opened or chosen, or places touched."""
    return component("plan")(
        data={
            "svg": svg,
            "names": [mark.name for mark in marks],
            "many": what == "panels",
            "places": what == "place",
            "chosen": [mark.name for mark in marks if mark.chosen],
        },
        key=key,
        on_panel_change=keeper(key, "panel") if what == "panel" else lambda: None,
        on_panels_change=lambda: None,
        on_place_change=keeper(key, "place"),
    )


def touched_from(given: object, names: Sequence[str], *, on_plan: bool) -> Touched | None:
    """What a browser says was touched, checked; None where it makes no sense.

    Parameters
    ----------
    on_plan : bool
        Whether the place means anything: only a car has a plan.

    Examples
    --------
    >>> touched_from({"panel": "roof", "x": 0.5, "y": 0.49}, ["roof"], on_plan=True)
    Touched(panel='roof', at=(0.5, 0.5))
    >>> touched_from({"panel": "mast", "x": 0.5, "y": 0.5}, ["roof"], on_plan=True) is None
    True
    """
    if not isinstance(given, Mapping) or given.get("panel") not in names:
        return None
    x, y = given.get("x"), given.get("y")
    if not (isinstance(x, int | float) and isinstance(y, int | float)):
        return None
    across, down = float(x), float(y) * 100 / HEIGHT
    inside = on_plan and 0 <= across <= 1 and 0 <= down <= 1
    return Touched(panel=str(given["panel"]), at=(across, down) if inside else None)
