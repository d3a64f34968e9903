"""The report as one HTML file: no script, no outside reference, pictures inside, every name escaped."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined

from defectmap.report.content import Audience, Picture, Report
from defectmap.report.layout import SIGNS, bar_share, facts_of, left_heading, other_pairs, widest_bar
from defectmap.report.method import IN_SHORT


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
    widest = widest_bar(report)

    def share(value: float | None) -> str:
        return f"{100 * bar_share(value, widest):.2f}"

    return render("report.html.jinja", report=report, audience=audience, share=share)


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
    environment.filters.update(data_uri=_data_uri, other_pairs=other_pairs)
    return environment


def render(template: str, **values: Any) -> str:
    """Fill a template of this package; everything put in is escaped."""
    report: Report | None = values.get("report")
    shared: Mapping[str, Any] = {
        "signs": SIGNS,
        "in_short": IN_SHORT,
        "left_heading": left_heading(report) if report else "",
        "facts": facts_of(report) if report else (),
        "calibrated": report is None or all(panel.calibrated for panel in report.panels),
    }
    return _environment().get_template(template).render({**shared, **values})


def _data_uri(picture: Picture) -> str:
    return f"data:image/jpeg;base64,{base64.b64encode(picture.jpeg).decode()}"
