"""What the customer is handed: a folder with one page and its pictures, that needs no script and no network.

It is drawn from the customer's report, and leaves out what that may still name: reference, customer, vehicle,
names and hashes of files. The pictures are JPEG without any metadata.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from defectmap.report.content import PanelSection, PicturePair, Report
from defectmap.report.page import render

PAGE = "index.html"
# A time inside a zip file says when it was made; the same folder is the same file.
ZIP_TIME = (2000, 1, 1, 0, 0, 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class CareLine:
    """One day on which something about the care of the car is due."""

    day: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HandedPanel:
    """What is shown of one panel: pictures, one figure, what is left."""

    name: str
    figure: str
    left: str
    pair: PicturePair | None
    filmed: str = ""  # that it was filmed, and what of
    more: tuple[PicturePair, ...] = ()  # of a filmed panel: marks and directions


@dataclass(frozen=True, slots=True, kw_only=True)
class Handover:
    """What the customer sees, on a screen or in the folder."""

    shop: str | None
    made_on: str
    headline: str
    panels: tuple[HandedPanel, ...]
    care: tuple[CareLine, ...]
    report: Report


def handover(report: Report, *, care: Sequence[CareLine] = ()) -> Handover:
    """Choose from a report what its customer is shown."""
    return Handover(
        shop=report.shop,
        made_on=report.made_on_text,
        headline=report.headline,
        panels=tuple(_panel(section) for section in report.panels),
        care=tuple(care),
        report=report,
    )


def handover_files(shown: Handover) -> Mapping[str, bytes]:
    """The files of the folder by name: the page and the pictures that it shows."""
    files: dict[str, bytes] = {}
    for number, panel in enumerate(shown.panels, start=1):
        if panel.pair is not None:
            files[f"{number}-before.jpg"] = panel.pair.before.jpeg
            files[f"{number}-after.jpg"] = panel.pair.after.jpeg
        for also, pair in enumerate(panel.more, start=2):
            files[f"{number}-{also}-before.jpg"] = pair.before.jpeg
            files[f"{number}-{also}-after.jpg"] = pair.after.jpeg
    page = render("handover.html.jinja", style=shown.report.style, shown=shown)
    return {PAGE: page.encode(), **files}


def handover_zip(shown: Handover) -> bytes:
    """The folder as one file."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as folder:
        for name, data in handover_files(shown).items():
            folder.writestr(zipfile.ZipInfo(f"your-car/{name}", ZIP_TIME), data)
    return out.getvalue()


def _panel(section: PanelSection) -> HandedPanel:
    reasons = " ".join(section.reasons)
    return HandedPanel(
        name=section.name,
        figure=section.headline if section.compared else reasons or section.headline,
        left=section.left,
        pair=section.pairs[0] if section.pairs else None,
        filmed=section.filmed,
        more=section.pairs[1:] if section.filmed else (),
    )
