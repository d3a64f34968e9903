"""What outcomes say."""

import pytest

from defectmap.comparison.figure_changes import proven
from defectmap.words.comparison_words import CHANGES
from defectmap.words.remark import sentence


@pytest.mark.parametrize(
    ("percent", "words"), [(96.8, "At least 96 %"), (99.97, "At least 99 %"), (1.0, "1 %")]
)
def test_what_is_proven_is_rounded_down(percent: float, words: str) -> None:
    assert words in sentence(proven(percent), CHANGES)


def test_nothing_proven_claims_nothing() -> None:
    assert proven(0.0).code == "nothing after"
