"""The vehicle's plan under a finger: one panel is opened by touching it, or several are chosen."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

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


def touched_place(
    names: Sequence[str], *, aliases: Mapping[str, str], kind: str, dots: Sequence[Dot], key: str
) -> Touched | None:
    """Draw the plan with what is marked on it; the place that was touched since it was last asked."""
    marks = [PanelMark(name=name, score=None, words="") for name in names]
    component("plan")(
        data={
            "svg": plan_svg(marks, aliases=aliases, kind=kind, dots=dots),
            "names": list(names),
            "many": False,
            "places": True,
            "chosen": [],
        },
        key=key,
        on_panel_change=lambda: None,
        on_panels_change=lambda: None,
        on_place_change=keeper(key, "place"),
    )
    return touched_from(taken_up(key, "place"), names, on_plan=kind == "car")


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
