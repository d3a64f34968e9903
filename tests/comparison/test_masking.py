"""Removed, or only less visible."""

import pytest

from defectmap.comparison.interval import RatioInterval
from defectmap.comparison.masking import STAGES, Stage, claim, rebound, stage_reasons
from defectmap.words.claim_words import CLAIMS
from defectmap.words.remark import Remark, sentence


@pytest.mark.parametrize("stage", [*STAGES, None])
def test_removed_only_after_the_wipe(stage: Stage | None) -> None:
    # common practice, no source: oils and fillers hide marks, a solvent wipe takes them off
    found = claim(before_stage="decontaminated", after_stage=stage)
    assert (found.word == "removed") == (stage == "wiped")
    assert all(sentence(reason, CLAIMS) for reason in found.reasons)


def test_a_filler_is_named() -> None:
    reasons = claim(before_stage="decontaminated", after_stage="filled").reasons
    assert "filler" in sentence(reasons[0], CLAIMS)


@pytest.mark.parametrize("stage", ["as received", "washed"])
def test_what_dirt_may_have_shown_is_not_said_to_be_removed(stage: Stage) -> None:
    found = claim(before_stage=stage, after_stage="wiped")
    assert found.word == "less visible"
    assert found.reasons == (Remark(code="dirt before"),)


def ratio(middle: float, low: float, high: float) -> RatioInterval:
    return RatioInterval(ratio=middle, low=low, high=high, level=0.95, method="sectors")


def test_rebound_in_points_of_the_before_density() -> None:
    # 80 % fewer before the wipe, 60 % fewer after it: 20 points came back
    found = rebound(unwiped=ratio(0.2, 0.15, 0.25), wiped=ratio(0.4, 0.3, 0.5), back=ratio(2.0, 1.5, 2.5))
    assert found.points == pytest.approx(20)
    assert found.ci95_points == pytest.approx((10, 30))
    assert found.remark.code == "came back"


def test_nothing_certain_came_back() -> None:
    found = rebound(unwiped=ratio(0.4, 0.3, 0.5), wiped=ratio(0.42, 0.3, 0.5), back=ratio(1.05, 0.9, 1.2))
    assert found.remark.code == "nothing certain came back"


@pytest.mark.parametrize("stage", [*STAGES, None])
def test_a_filled_pair_asks_for_care(stage: Stage | None) -> None:
    flagged = [reason.verdict for reason in stage_reasons(stage)]
    assert flagged == (["with care"] if stage in ("filled", "protected", "follow up") else [])
