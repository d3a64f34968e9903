"""Gates of the stages and the words that the record supports (common practice, no source)."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, cast

import pytest

from defectmap.comparison.masking import OnPaint, claim
from defectmap.comparison.outcome import Claim
from defectmap.errors import JobError
from defectmap.trade.facts import PanelHistory
from defectmap.trade.on_paint import on_any, on_paint
from defectmap.trade.stages import STAGE_NAMES, STEP_KINDS, gates_for_stage, gates_for_step, stage_named
from defectmap.words.remark import Remark
from defectmap.words.stage_words import GATES, told_gates
from tests.trade.rules import history, now, panel, readings, step

CLEAN = ("wash", "decontaminate")
if TYPE_CHECKING:
    from defectmap.comparison.masking import Stage

LADDER = ("finish", "medium", "heavy")


def codes(gates: Iterable[Remark]) -> set[str]:
    return {gate.code for gate in gates}


def prepared(*more: object, photographed: tuple[str, ...] = ("decontaminated",)) -> PanelHistory:
    steps = (*(step(kind) for kind in CLEAN), *more)
    return history(*steps, photographed=frozenset(photographed), readings=readings(110, 111, 112))  # type: ignore[arg-type]


@pytest.mark.parametrize("spelling", ["test spot", "Test-Spot", "TEST_SPOT", " test  spot "])
def test_a_stage_is_known_however_it_is_spelt(spelling: str) -> None:
    assert stage_named(spelling) == "test spot"


def test_an_unknown_stage_is_answered_with_the_known_ones() -> None:
    with pytest.raises(JobError, match="as received, washed, decontaminated"):
        stage_named("polished")


@pytest.mark.parametrize("stage", STAGE_NAMES)
def test_a_job_done_in_order_meets_no_gate_but_those_that_always_hold(stage: str) -> None:
    done = prepared(step("correct", spot="1", rung="finish"), step("correct", rung="finish"), step("wipe"))
    if stage == "protected":
        done = prepared(*done.steps[2:], step("protect"), photographed=("decontaminated", "wiped"))
    if stage == "filled":
        done = prepared(*done.steps[2:], step("fill"), photographed=("decontaminated", "wiped"))
    hides = {"corrected": {"oils"}, "filled": {"filler hides"}, "protected": {"protection hides"}}
    always = hides.get(stage, set())
    assert codes(gates_for_stage(done, stage)) == always


def test_polishing_what_is_never_polished_is_warned_of() -> None:
    done = prepared()
    assert "never polished" in codes(gates_for_step(done, "correct", rung="finish", paint="matt"))
    film = PanelHistory(panel=panel(paint="film"), steps=done.steps)
    assert "never polished" in codes(gates_for_step(film, "correct", rung="finish", paint="clear coat"))
    assert "never polished" not in codes(gates_for_step(done, "correct", rung="finish", paint="clear coat"))
    assert "never polished" not in codes(gates_for_step(done, "wipe", paint="matt"))


@pytest.mark.parametrize(
    ("stage", "expected"),
    [
        ("as received", set()),
        ("washed", {"no wash"}),
        ("decontaminated", {"no wash", "not decontaminated"}),
        ("test spot", {"not clean", "no before", "no thickness", "no correction", "no wipe"}),
        ("corrected", {"not clean", "no before", "no thickness", "no correction", "oils"}),
        ("wiped", {"not clean", "no before", "no thickness", "no correction", "no wipe"}),
        ("filled", {"no filler", "no proof", "filler hides"}),
        ("protected", {"no protection", "no proof", "protection hides"}),
        ("follow up", {"no wash"}),
    ],
)
def test_each_stage_says_what_is_missing(stage: str, expected: set[str]) -> None:
    assert codes(gates_for_stage(history(), stage)) == expected


def test_two_readings_are_not_a_thickness() -> None:
    two = history(readings=readings(110, 111) + readings(112, place="edge"))
    assert "no thickness" in codes(gates_for_step(two, "correct"))
    three = history(readings=readings(110, 111, 112))
    assert "no thickness" not in codes(gates_for_step(three, "correct"))


def test_a_wipe_before_the_last_correction_does_not_count() -> None:
    early = prepared(step("correct", spot="1"), step("wipe"), step("correct"))
    assert "no wipe" in codes(gates_for_stage(early, "wiped"))
    assert "no wipe" not in codes(gates_for_stage(prepared(*early.steps[2:], step("wipe")), "wiped"))


def test_a_test_spot_is_judged_by_what_was_done_to_it() -> None:
    two_spots = prepared(step("correct", spot="1"), step("wipe", spot="1"), step("correct", spot="2"))
    assert "no wipe" not in codes(gates_for_stage(two_spots, "test spot", spot="1"))
    assert "no wipe" in codes(gates_for_stage(two_spots, "test spot", spot="2"))


@pytest.mark.parametrize(
    ("kind", "expected"),
    [
        ("wash", set()),
        ("decontaminate", {"no wash before clay"}),
        ("correct", {"not clean", "no before", "no thickness", "no test spot yet"}),
        ("wipe", set()),
        ("fill", {"filler will hide"}),
        ("protect", {"no proof"}),
    ],
)
def test_each_step_says_what_is_missing(kind: str, expected: set[str]) -> None:
    assert codes(gates_for_step(history(), kind)) == expected


@pytest.mark.parametrize(
    ("tried", "rung", "warned"),
    [
        ((), "finish", False),
        ((), "heavy", True),
        (("finish",), "heavy", True),
        (("finish", "medium"), "heavy", False),
        (("medium",), "medium", True),
        ((), "unknown step", False),
    ],
)
def test_leaving_out_a_gentler_step_is_warned_of(tried: tuple[str, ...], rung: str, warned: bool) -> None:
    done = prepared(*(step("correct", spot="1", rung=key) for key in tried))
    gates = gates_for_step(done, "correct", spot="1", rung=rung, ladder=LADDER)
    assert ("gentler untried" in codes(gates)) is warned


@pytest.mark.parametrize(
    ("tried", "spot", "warned"), [(False, None, True), (True, None, False), (False, "1", False)]
)
def test_only_the_whole_panel_needs_a_test_spot_first(tried: bool, spot: str | None, warned: bool) -> None:
    done = prepared(*((step("correct", spot="2"),) if tried else ()))
    assert ("no test spot yet" in codes(gates_for_step(done, "correct", spot=spot))) is warned


def test_correcting_over_protection_is_warned_of() -> None:
    done = prepared(step("protect"))
    assert "over protection" in codes(gates_for_step(done, "correct", spot="1"))


def test_every_gate_has_its_sentence_and_every_sentence_its_gate() -> None:
    nothing, filled = history(), prepared(step("correct"), step("fill"), step("protect"))
    gates = [
        gate for stage in STAGE_NAMES for one in (nothing, filled) for gate in gates_for_stage(one, stage)
    ]
    for kind in STEP_KINDS:
        gates += gates_for_step(nothing, kind, rung="heavy", ladder=LADDER, paint="matt")
        gates += gates_for_step(filled, kind)
    assert all(told_gates(gates))
    assert codes(gates) == set(GATES) - {"kept"}


def test_gates_say_the_stage_the_readings_and_the_steps() -> None:
    gates = gates_for_step(history(), "correct", rung="heavy", ladder=LADDER)
    said = " ".join(told_gates([*gates, *gates_for_step(history(), "protect")]))
    assert "'decontaminated'" in said
    assert "'wiped'" in said
    assert "has 3 film thickness readings" in said
    assert "(finish, medium)" in said


def claimed(
    done: PanelHistory, *, before: str = "decontaminated", after: str = "wiped", at: str | None = None
) -> Claim:
    found = on_paint(done, taken_at=at)
    return claim(before_stage=cast("Stage", before), after_stage=cast("Stage", after), on_paint=found)


@pytest.mark.parametrize(
    ("kinds", "against"),
    [
        (("correct", "wipe"), set()),
        (("correct", "wipe", "protect"), set()),  # the stage is taken at its word: wiped comes before
        (("correct",), {"no wipe recorded"}),
        (("wipe", "correct"), {"no wipe recorded"}),
        (("correct", "fill", "wipe"), {"filler recorded"}),
        (("correct", "wipe", "fill"), {"filler recorded"}),
        ((), {"no wipe recorded"}),
    ],
)
def test_removed_needs_a_wipe_and_no_filler(kinds: tuple[str, ...], against: set[str]) -> None:
    found = claimed(history(*(step(kind) for kind in kinds)))
    assert found.word == ("less visible" if against else "removed")
    assert codes(found.reasons) == (against or {"wiped"})


@pytest.mark.parametrize("stage", ["corrected", "filled", "protected", "test spot"])
def test_removed_needs_the_stage_wiped(stage: str) -> None:
    found = claimed(history(step("correct"), step("wipe")), after=stage)
    assert (found.word, codes(found.reasons)) == ("less visible", {f"hiding {stage}"})


def test_dirt_in_the_first_photograph_is_said() -> None:
    found = claimed(history(step("correct"), step("wipe")), before="as received")
    assert (found.word, codes(found.reasons)) == ("less visible", {"dirt before"})


def test_the_camera_clock_overrules_the_stage() -> None:
    correct, wipe = step("correct"), step("wipe")
    between = now()
    protect = step("protect")
    late = now()
    done = history(correct, wipe, protect)
    assert claimed(done, at=between).word == "removed"
    assert codes(claimed(done, at=late).reasons) == {"protection recorded"}
    assert codes(claimed(done, at=correct.at).reasons) == {"no wipe recorded"}


def test_one_photograph_with_something_on_the_paint_decides_for_all() -> None:
    bare = OnPaint(oils=False, filler=False, protection=False)
    assert on_any([bare, bare]) == bare
    for name in ("oils", "filler", "protection"):
        assert on_any([bare, replace(bare, **{name: True}), bare]) == replace(bare, **{name: True})
