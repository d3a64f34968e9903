"""What outcomes say."""

import pytest

from defectmap.comparison.outcome import proven_words


@pytest.mark.parametrize(
    ("proven", "words"), [(96.8, "At least 96 %"), (99.97, "At least 99 %"), (1.0, "1 %")]
)
def test_what_is_proven_is_rounded_down(proven: float, words: str) -> None:
    assert words in proven_words(proven)


def test_nothing_proven_claims_nothing() -> None:
    assert "too few marks before" in proven_words(0.0)
