"""Every code of a comparison has its sentence."""

import re
from pathlib import Path

import defectmap.comparison
from defectmap.comparison.masking import STAGES
from defectmap.words import claim_words
from defectmap.words import comparison_words as words
from defectmap.words.remark import Remark, sentence

ROOM = Path(defectmap.comparison.__file__).parent
TABLES = (words.REASONS, words.CHANGES, claim_words.CLAIMS, claim_words.REBOUND, words.WARNINGS, words.CROPS)
ENDINGS = ("", " and haze", " at every spot")


def test_every_code_is_worded_and_every_wording_is_used() -> None:
    films = set(ROOM.parent.glob("film/*.py")) - {ROOM.parent / "film" / "film_cautions.py"}
    files = (*ROOM.glob("*.py"), *films, ROOM.parent / "pictures" / "crops.py")
    text = "\n".join(path.read_text() for path in files)
    worded = {code for table in TABLES for code in table}
    assert {code for code in re.findall(r'code="([^"{]+)"', text) if code not in worded} == set()
    made = {f"hiding {stage}" for stage in ("unknown", *STAGES)} | {
        "filled after",
        "protected after",
        "follow up after",
    }
    roots = {code: [code.removesuffix(ending) for ending in ENDINGS] for code in worded - made}
    unused = {
        code for code, stems in roots.items() if not any(re.search(f'"{stem}["{{]', text) for stem in stems)
    }
    assert unused == set()


def test_every_stage_that_may_hide_marks_is_worded() -> None:
    assert {f"hiding {stage}" for stage in STAGES if stage != "wiped"} < set(claim_words.CLAIMS)


def test_values_are_filled_in() -> None:
    values = {"found": 0.123, "limit": 0.07, "haze_before": 0.2, "haze_after": 0.1}
    said = sentence(Remark(code="halo shape and haze", values=values), words.REASONS)
    assert "0.12 stops, limit 0.07" in said
    assert said.endswith("Haze went from 0.20 to 0.10, which changes the halo by itself.")
