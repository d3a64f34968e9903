"""The two charts of a panel result, each with a sentence that says what it shows.

They are written as Vega-Lite, the form that the browser draws: a library that writes it for us takes a second
to import on the first panel that is looked at.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from defectmap.pages.widgets.interval_bar import DARK, LIGHT
from defectmap.panel.measurement import MarkKind
from defectmap.pictures.palette import STYLES
from defectmap.words.mark_words import MANY

Spec = dict[str, Any]
EDGES: Mapping[str, tuple[float, ...]] = {  # of the classes of length, by their unit
    "mm": (1, 2, 3, 5, 8, 12, 20, 30, 50, 80, 120, 200),
    "in": (0.05, 0.1, 0.2, 0.3, 0.5, 0.8, 1.2, 2, 3, 5, 8),
    "px": (20, 40, 60, 100, 160, 240, 400, 600, 1000, 1600, 2400, 4000),
}
KINDS: tuple[MarkKind, ...] = ("swirl", "scratch", "trail")
HEIGHT_PX = 280
LEGEND_COLUMNS, LEGEND_ROW_PX = 2, 30  # three names side by side are cut off on a phone


@dataclass(frozen=True, slots=True, kw_only=True)
class LengthClass:
    """How many marks of one kind have a length in one class."""

    kind: MarkKind
    label: str
    order: int
    marks: int


def length_classes(
    marks: Sequence[Mapping[str, Any]], *, edges: Sequence[float] = EDGES["mm"]
) -> tuple[LengthClass, ...]:
    """Count marks by kind and length.

    Parameters
    ----------
    marks : sequence of mapping
        `marks` of `measure --json`.
    edges : sequence of float
        Of the classes, in the unit of the marks' lengths.

    Returns
    -------
    tuple of LengthClass
        Every class up to the longest mark, for every kind that occurs.
    """
    numbers: dict[tuple[str, int], int] = {}
    for mark in marks:
        index = sum(mark["length_mm"] >= edge for edge in edges)
        numbers[mark["kind"], index] = numbers.get((mark["kind"], index), 0) + 1
    if not numbers:
        return ()
    first, last = min(i for _, i in numbers), max(i for _, i in numbers)
    found = [kind for kind in KINDS if any(kind == k for k, _ in numbers)]
    return tuple(
        LengthClass(kind=kind, label=_label(index, edges), order=index, marks=numbers.get((kind, index), 0))
        for index in range(first, last + 1)
        for kind in found
    )


def length_words(classes: Sequence[LengthClass], *, unit: str = "mm") -> str:
    """What the chart of lengths shows."""
    total = sum(one.marks for one in classes)
    if not total:
        return "No mark was found."
    by_class: dict[str, int] = {}
    for one in classes:
        by_class[one.label] = by_class.get(one.label, 0) + one.marks
    most = max(by_class, key=lambda label: by_class[label])
    if total == 1:
        return f"1 mark, {most} {unit} long."
    trails = sum(one.marks for one in classes if one.kind == "trail")
    lines = f", {trails} of them lines of buffer trails" if trails else ""
    return f"{total} marks{lines}; the commonest length is {most} {unit} ({by_class[most]} of them)."


def ring_words(rings: Sequence[Mapping[str, Any]], *, unit: str = "mm") -> str:
    """What the radial profile shows."""
    seen = [ring for ring in rings if ring["area_cm2"] > 0]
    if not seen:
        return "Nothing was counted round the lamp."
    if not any(ring["density_mm_per_cm2"] for ring in seen):
        return "No mark shows."
    most = max(seen, key=lambda ring: ring["density_mm_per_cm2"])
    return (
        f"Most marks show {most['inner_mm']:.3g} to {most['outer_mm']:.3g} {unit} from the lamp's "
        "reflection. Fewer show farther out because less light is left there, not because the paint is "
        "better."
    )


def length_chart(classes: Sequence[LengthClass], *, unit: str = "mm", dark: bool = False) -> Spec:
    """Bars of the number of marks by length and kind, for a light or a dark page."""
    rows = [
        {"kind": MANY[one.kind], "length": one.label, "order": one.order, "marks": one.marks}
        for one in classes
    ]
    kinds = [kind for kind in KINDS if any(one.kind == kind for one in classes)]
    colours = ["#" + "".join(f"{part:02x}" for part in STYLES[kind].colour) for kind in kinds]
    return {
        "data": {"values": rows},
        "height": HEIGHT_PX + (LEGEND_ROW_PX if len(kinds) > LEGEND_COLUMNS else 0),
        "config": _ink(dark),
        "mark": {"type": "bar", "stroke": "#7a828c", "strokeWidth": 0.5},
        "encoding": {
            "x": _axis("length", "nominal", f"length, {unit}", sort={"field": "order"}),
            "y": _axis("marks", "quantitative", "number of marks", axis={"tickMinStep": 1}),
            "color": {
                "field": "kind",
                "type": "nominal",
                "scale": {"domain": [MANY[kind] for kind in kinds], "range": colours},
                "legend": {"orient": "top", "title": None, "columns": LEGEND_COLUMNS},
            },
            "tooltip": _shown(kind="nominal", length="nominal", marks="quantitative"),
        },
    }


def ring_chart(
    rings: Sequence[Mapping[str, Any]], *, unit: str = "mm", per_area: str = "mm/cm²", dark: bool = False
) -> Spec:
    """Density of marks against the distance from the lamp's reflection, for a light or a dark page."""
    rows = [
        {
            "away": (ring["inner_mm"] + ring["outer_mm"]) / 2,
            "density": ring["density_mm_per_cm2"],
            "area": ring["area_cm2"],
        }
        for ring in rings
        if ring["area_cm2"] > 0 and math.isfinite(ring["density_mm_per_cm2"])
    ]
    return {
        "data": {"values": rows},
        "height": HEIGHT_PX,
        "config": _ink(dark),
        "mark": {"type": "line", "point": True, "strokeWidth": 2.5},
        "encoding": {
            "x": _axis("away", "quantitative", f"distance from the reflection, {unit}"),
            "y": _axis("density", "quantitative", f"marks, {per_area}"),
            "tooltip": _shown(away="quantitative", density="quantitative", area="quantitative"),
        },
    }


def _ink(dark: bool) -> Spec:
    """Words in the page's own ink: the grey that charts have otherwise is too pale to read in a workshop."""
    ink = (DARK if dark else LIGHT)["ink"]
    return {"axis": {"labelColor": ink, "titleColor": ink}, "legend": {"labelColor": ink, "titleColor": ink}}


def _axis(field: str, kind: str, title: str, **more: object) -> Spec:
    return {"field": field, "type": kind, "title": title, **more}


def _shown(**kinds: str) -> list[Spec]:
    return [{"field": field, "type": kind} for field, kind in kinds.items()]


def _label(index: int, edges: Sequence[float]) -> str:
    if index == 0:
        return f"under {edges[0]:g}"
    if index == len(edges):
        return f"over {edges[-1]:g}"
    return f"{edges[index - 1]:g} to {edges[index]:g}"
