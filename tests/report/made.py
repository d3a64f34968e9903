"""Records of comparisons with figures of our own choosing, and reports of them; no picture is measured."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from defectmap.report.binding import Heading, assemble
from defectmap.report.content import FilmEntry, PanelSection, PhotographEntry, PicturePair, Report, StepEntry
from defectmap.report.picture_pairs import jpeg_picture
from defectmap.report.privacy import Aliases, PrivacyChoice
from defectmap.report.sections import panel_section
from defectmap.words.style import Style
from defectmap.words.writer import Writer

SHA256 = "0123456789abcdef" * 4


def change(
    before: float | None,
    after: float | None,
    percent: float | None = None,
    interval: tuple[float, float] | None = None,
    **more: Any,
) -> dict[str, Any]:
    """One figure of a record; distinguishable where the interval excludes zero."""
    told = None if interval is None else not interval[0] <= 0 <= interval[1]
    return {
        "before": before,
        "after": after,
        "change_percent": percent,
        "ci95_percent": None if interval is None else list(interval),
        "distinguishable": told,
        "at_least_percent": None,
        "note": "",
        **more,
    }


def side(name: str, source: str = "typed") -> dict[str, Any]:
    """As much of a measurement's record as a section looks at."""
    return {"photo": {"name": name, "sha256": SHA256}, "scale": {"px_per_mm": 16.0, "source": source}}


def record(
    marks: dict[str, Any],
    *,
    swirl: dict[str, Any] | None = None,
    trail: dict[str, Any] | None = None,
    comparable: str = "yes",
    reasons: Sequence[str] = (),
    word: str = "removed",
    source: str = "typed",
    **more: Any,
) -> dict[str, Any]:
    """The record of one comparison."""
    none = change(0.0, 0.0, note="Nothing before.", note_code="clean before", note_values={})
    return {
        "comparable": comparable,
        "reasons": list(reasons),
        "scope": "this spot",
        "claim": {"word": word, "reason": f"Say {word}.", "notes": []},
        "density_mm_per_cm2": {
            "all": marks,
            "swirl": swirl or marks,
            "scratch": none,
            "trail": trail or change(0.0, 0.0),
        },
        "longest_scratch_mm": none,
        "haze": change(0.28, 0.27, -3.6, (-20.0, 16.0)),
        "score": change(48.0, 84.0, 75.0, (50.0, 104.0)),
        "rebound": None,
        "setup": None,
        "warnings": [],
        "before": side("before.jpg", source),
        "after": side("after.jpg", source),
        "spots": [],
        **more,
    }


def less(percent: float = -80.0, *, before: float = 10.0, half: float = 5.0, **more: Any) -> dict[str, Any]:
    """A record whose marks fell by so much, give or take `half` points."""
    marks = change(before, before * (1 + percent / 100), percent, (percent - half, percent + half))
    return record(marks, **more)


def not_comparable(reason: str = "The lamp is another one; use the same lamp.") -> dict[str, Any]:
    marks = change(9.0, 3.0, note="Not comparable.")
    return record(marks, comparable="no", reasons=[reason], word="less visible")


def section(
    name: str, found: dict[str, Any], *, pictures: bool = True, why: str = "", style: Style | None = None
) -> PanelSection:
    shown = [pair(name)] if pictures and found["comparable"] != "no" else []
    aliases = Aliases(PrivacyChoice())
    return panel_section(name, found, aliases=aliases, pairs=shown, why_left=why, writer=Writer(style))


def pair(name: str) -> PicturePair:
    grey = np.full((64, 64, 3), 90, dtype=np.uint8)
    lines = grey.copy()
    lines[::8] = 250
    return PicturePair(
        panel=name,
        before=jpeg_picture(lines, alt=f"Before: {name}"),
        after=jpeg_picture(grey, alt=f"After: {name}"),
        caption="Same piece of panel.",
    )


def photograph(panel: str, stage: str, **more: Any) -> PhotographEntry:
    facts: dict[str, Any] = {
        "panel": panel,
        "spot": "1",
        "stage": stage,
        "name": None,
        "sha256": SHA256,
        "taken": "2026-05-12 08:41",
        "taken_day": "2026-05-12",
        "limit_length": "1 mm",
        "size": "2000 × 1500 px",
        "exposure": "1/100 s, f/1.8, ISO 80",
        "scale": "16.0 px/mm (typed)",
        "area": "113 cm²",
        "limit": "12 % brighter than the paint beside it, over 1 mm",
        "limit_contrast": 0.12,
        **more,
    }
    return PhotographEntry(**facts)


def report(*sections: PanelSection, style: Style | None = None, **heading: Any) -> Report:
    facts = {"title": "Paint before and after", "made_on": "2026-05-13", "reference": "J-1", **heading}
    photographs = [photograph(s.name, stage) for s in sections for stage in ("decontaminated", "wiped")]
    return assemble(
        Heading(**facts),
        sections,
        photographs,
        steps=[
            StepEntry(what="Polished: finishing polish", panels="all", when="2026-05-12", takes="0.5 to 2 µm")
        ],
        films=[
            FilmEntry(
                panel="bonnet",
                thinnest="118 µm",
                mean="119 µm",
                readings="3 readings at 1 place",
                spent="0.5 to 2 µm",
                allowed="5 µm",
                remarks=("Repainted: its clear coat may be softer.",),
            )
        ],
        film_assumptions=("The clear coat is assumed.",),
        writer=Writer(style),
    )


def five_panels(*, style: Style | None = None) -> Report:
    """Four clear reductions, one small one."""
    changes = {"bonnet": -83, "roof": -92, "left front door": -88, "right rear quarter": -24, "boot lid": -85}
    return report(
        *(section(name, less(percent), why="Kept.", style=style) for name, percent in changes.items()),
        style=style,
    )
