"""The report as one HTML file: no script, no outside reference, pictures inside, every name escaped."""

from __future__ import annotations

import base64
from functools import cache, partial
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined

from defectmap.report.content import Audience, PrintedPicture, Report
from defectmap.report.layout import (
    SIGNS,
    bar_share,
    bars_heading,
    facts_of,
    left_heading,
    other_pairs,
    panel_facts,
    step_line,
    strength_note,
    widest_bar,
    widest_strength,
)
from defectmap.report.method import in_short
from defectmap.words.style import Style
from defectmap.words.writer import Writer


def report_html(report: Report, *, audience: Audience = "customer") -> str:
    """Draw the page.

    Parameters
    ----------
    report : Report
        What it says.
    audience : {"customer", "full"}, optional
        The customer's version is short; the full one adds every figure, method, limits and hashes.

    Returns
    -------
    str
        HTML that opens from a disk without a network. A content security policy in it forbids any request.
    """
    widest, strongest = widest_bar(report), widest_strength(report)

    def share(value: float | None) -> str:
        return f"{100 * bar_share(value, widest):.2f}"

    def strength(value: float) -> str:
        return f"{100 * bar_share(value, strongest):.2f}"

    return render(
        "report.html.jinja",
        style=report.style,
        report=report,
        audience=audience,
        share=share,
        strength=strength,
        panel_facts=partial(panel_facts, writer=Writer(report.style)),
        left_heading=left_heading(report),
        bars_heading=bars_heading(report),
        strength_note=strength_note(report),
        step_line=partial(step_line, writer=Writer(report.style)),
        facts=facts_of(report),
        calibrated=all(panel.calibrated for panel in report.panels),
        in_short=in_short(films=report.filmed, calibrated=report.calibrated, writer=Writer(report.style)),
    )


@cache
def _environment() -> Environment:
    """The templates, each read and compiled once."""
    environment = Environment(
        loader=PackageLoader("defectmap.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(data_uri=_data_uri, mark_uri=_mark_uri, other_pairs=other_pairs)
    return environment


def render(template: str, *, style: Style, **values: Any) -> str:
    """Fill a template of this package in the shop's style; everything put in is escaped."""
    writer = Writer(style)
    shared = {
        "signs": SIGNS,
        "in_short": in_short(writer=writer),
        "tell": writer.tell,
        "tell_many": writer.tell_many,
        "language": style.language,
    }
    return _environment().get_template(template).render({**shared, **values})


def _data_uri(picture: PrintedPicture) -> str:
    return f"data:image/jpeg;base64,{base64.b64encode(picture.jpeg).decode()}"


def _mark_uri(mark: bytes) -> str:
    kind = "png" if mark.startswith(b"\x89PNG") else "jpeg"
    return f"data:image/{kind};base64,{base64.b64encode(mark).decode()}"
