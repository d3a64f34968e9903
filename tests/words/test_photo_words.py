"""Every code of a photograph's or a film's warnings has its sentence."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import defectmap
from defectmap.words.photo_words import CAUSES, WARNINGS, told
from defectmap.words.remark import Remark
from defectmap.words.style import Style
from defectmap.words.writer import Writer

PACKAGE = Path(defectmap.__file__).parent
FILES = (
    *(PACKAGE / "panel").rglob("*.py"),
    PACKAGE / "film/film_cautions.py",
    PACKAGE / "record/corrections.py",
)


def test_every_code_is_worded_and_every_wording_is_used() -> None:
    text = "\n".join(path.read_text("utf-8") for path in FILES)
    codes = set(re.findall(r'code="([^"{]+)"', text))
    assert codes - set(WARNINGS) == set()
    assert {code for code in WARNINGS if f'"{code}"' not in text} == set()


@pytest.mark.parametrize("cause", sorted(CAUSES))
def test_a_cause_is_told_with_its_cure_in_the_language_of_the_shop(cause: str) -> None:
    remark = Remark(code="small-zone", values={"share": 0.1, "cause": cause})
    assert all(part in told(remark) for part in CAUSES[cause])
    german = told(remark, writer=Writer(Style(language="de")))
    assert not any(part in german for part in CAUSES[cause])
