"""What the customer is handed: a folder with one page and its pictures, that needs no script and no network.

It is drawn from the customer's report, and leaves out what that may still name: reference, customer, vehicle,
names and hashes of files. The pictures are JPEG without any metadata.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping, Sequence

from defectmap.report.care_lines import CareLine
from defectmap.report.content import Report
from defectmap.report.page import render

PAGE = "index.html"
# A time inside a zip file says when it was made; the same folder is the same file.
ZIP_TIME = (2000, 1, 1, 0, 0, 0)


def handover_files(report: Report, care: Sequence[CareLine] = ()) -> Mapping[str, bytes]:
    """The files of the folder by name: the page and the pictures that it shows."""
    files: dict[str, bytes] = {}
    for number, panel in enumerate(report.panels, start=1):
        for also, pair in enumerate(panel.handed, start=1):
            name = f"{number}" if also == 1 else f"{number}-{also}"
            files[f"{name}-before.jpg"] = pair.before.jpeg
            files[f"{name}-after.jpg"] = pair.after.jpeg
    page = render("handover.html.jinja", style=report.style, report=report, care=care)
    return {PAGE: page.encode(), **files}


def handover_zip(report: Report, care: Sequence[CareLine] = ()) -> bytes:
    """The folder as one file."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as folder:
        for name, data in handover_files(report, care).items():
            folder.writestr(zipfile.ZipInfo(f"your-car/{name}", ZIP_TIME), data)
    return out.getvalue()
