"""What is called before is the picture before, in every form of the report: they are never swapped."""

from __future__ import annotations

import base64
import io
import re

import numpy as np
import pypdfium2 as pdfium
import pytest
from PIL import Image

from defectmap.report.content import Report
from defectmap.report.handover import handover_files
from defectmap.report.page import report_html
from defectmap.report.pdf import report_pdf
from defectmap.report.posting import posting_picture
from tests.report import made


@pytest.fixture(scope="module")
def one() -> Report:
    """Lines show on the picture before, none on the one after (`made.pair`)."""
    return made.report(made.section("bonnet", made.less()))


def lined(picture: bytes | np.ndarray) -> bool:
    grey = np.asarray(Image.open(io.BytesIO(picture)).convert("L") if isinstance(picture, bytes) else picture)
    return bool(np.std(grey[20:-20, 4:-4]) > 20)


def shown(html: str) -> list[tuple[str, str]]:
    """Source of each picture and the word below it."""
    return re.findall(r'<img src="([^"]+)"[^>]*><p>(Before|After)</p>', html)


def test_on_the_page(one: Report) -> None:
    pairs = shown(report_html(one, audience="full"))
    assert len(pairs) >= 2
    for source, word in pairs:
        assert lined(base64.b64decode(source.partition("base64,")[2])) == (word == "Before")


def test_in_the_folder_that_is_handed_over(one: Report) -> None:
    files = handover_files(one)
    sources = re.findall(r'<img class="(before|after)" src="([^"]+)"', files["index.html"].decode())
    assert len(sources) == 2
    for word, name in sources:
        assert lined(files[name]) == (word == "before")


def test_on_paper(one: Report) -> None:
    page = pdfium.PdfDocument(report_pdf(one))[0]
    words = page.get_textpage()
    kinds = []
    for picture in page.get_objects(filter=[pdfium.raw.FPDF_PAGEOBJ_IMAGE]):
        left, bottom, right, _ = picture.get_bounds()
        below = words.get_text_bounded(left=left, bottom=bottom - 16, right=right, top=bottom)
        said = [word for word in ("Before", "After") if word in below]
        assert [lined(picture.get_bitmap().to_numpy()[..., 0])] == [word == "Before" for word in said]
        kinds += said
    assert kinds == ["Before", "After"]


def test_on_the_picture_for_posting(one: Report) -> None:
    grey = np.asarray(Image.open(io.BytesIO(posting_picture(one))).convert("L"))
    square = grey.shape[1] // 2
    assert (lined(grey[60:square, :square]), lined(grey[60:square, square:])) == (True, False)
