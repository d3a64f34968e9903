"""The folder for the customer: one page, its pictures, no script, nothing private."""

from __future__ import annotations

import io
import re
import zipfile
from dataclasses import replace
from typing import Any

from PIL import Image

from defectmap.report.care_lines import CareLine
from defectmap.report.handover import PAGE, handover_files, handover_zip
from tests.report import made

CARE = (CareLine(day="2026-06-01", words="look at the protection"),)


def test_the_page_names_every_panel_its_figure_and_the_care_dates() -> None:
    report = made.five_panels()
    page = handover_files(report, CARE)[PAGE].decode()
    for section in report.panels:
        assert section.name in page
    assert "2026-06-01: look at the protection" in page
    assert report.headline in page


def test_that_marks_may_only_be_hidden_is_said_to_the_customer_too() -> None:
    hidden = made.report(made.section("roof", made.less(word="less visible")))
    page = handover_files(hidden, CARE)[PAGE].decode()
    assert "may be hidden and not gone" in page
    assert page.count(hidden.summary[0]) == 1  # it stands with its panel


def test_it_needs_no_script_and_asks_nobody() -> None:
    page = handover_files(made.five_panels())[PAGE].decode().lower()
    assert "<script" not in page
    assert not re.search(r"\son\w+=", page)
    assert not re.search(r"(src|href)=\"(https?:)?//", page)


def test_nothing_private_is_in_it() -> None:
    private: dict[str, Any] = {"reference": "REF-77", "customer": "Somebody Known", "vehicle": "plate XY 123"}
    report = replace(made.five_panels(), **private)
    files = handover_files(report, CARE)
    page = files[PAGE].decode()
    assert not any(words in page for words in private.values())
    assert not any(entry.sha256 in page for entry in report.photographs)
    for name, data in files.items():
        if name != PAGE:
            with Image.open(io.BytesIO(data)) as picture:
                assert not picture.getexif()


def test_every_picture_that_the_page_shows_is_in_the_folder_and_no_other() -> None:
    report = made.five_panels()
    with zipfile.ZipFile(io.BytesIO(handover_zip(report, CARE))) as folder:
        names = {name.removeprefix("your-car/") for name in folder.namelist()}
        page = folder.read(f"your-car/{PAGE}").decode()
    assert names == {PAGE, *re.findall(r'src="([^"]+)"', page)}
    assert handover_zip(report, CARE) == handover_zip(report, CARE)
