"""What outcomes say."""

import pytest

from defectmap.commands.compare_table import change_words
from defectmap.comparison.outcome import Change, proven_words
from defectmap.words.page_words import change_words as page_words


@pytest.mark.parametrize(
    ("proven", "words"), [(96.8, "At least 96 %"), (99.97, "At least 99 %"), (1.0, "1 %")]
)
def test_what_is_proven_is_rounded_down(proven: float, words: str) -> None:
    assert words in proven_words(proven)


def test_nothing_proven_claims_nothing() -> None:
    assert "too few marks before" in proven_words(0.0)
    clean = Change(
        figure="density all", before=0.1, after=0.0, change_percent=-100.0, at_least_percent=0.0, note="N"
    )
    assert change_words(clean) == "none seen"
    assert page_words({"change_percent": -100.0, "at_least_percent": 0.0, "note": "N"}) == "N"


def test_a_clean_photograph_after_is_no_hundred_percent_on_the_page() -> None:
    change = {"change_percent": -100.0, "ci95_percent": [-100.0, -96.8], "at_least_percent": 96.8}
    assert page_words(change) == "reduced by at least 96 %"
