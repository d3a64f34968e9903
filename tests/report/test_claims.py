"""What may be said in advertising.

The rules are those that advertising law of several places has in common: FTC policy statement on advertising
substantiation (US, 1984), CAP Code rule 3.7 (UK), Directive 2005/29/EC article 6 (EU), and 16 CFR 255.2 on
typical results (US, from memory). No legal advice; the sheet says so itself.
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from defectmap.report.claim_support import Statement
from defectmap.report.claims import ClaimSheet, claim_sheet
from defectmap.report.typical import JobResult, typical_result, typical_words
from tests.report import made


def said(sheet: ClaimSheet, start: str) -> Statement:
    found = [s for s in sheet.statements if s.words.startswith(start)]
    assert len(found) == 1, [s.words for s in sheet.statements]
    return found[0]


def test_supported_sentence_holds_panels_figure_and_interval() -> None:
    """Number of panels, every measured panel, the interval and not only the mean."""
    sentence = said(claim_sheet(made.five_panels()), "Visible marks ")
    assert sentence.supported
    assert sentence.words == (
        "Visible marks reduced by 74 % (95 % interval 72 to 77 %) on 5 panels of one car, all that were "
        "measured (5 places), under the conditions below."
    )


def test_conditions_that_must_go_with_it() -> None:
    """Same light, wipe, smallest mark counted, date, who chose the panels, the worst panel, this job only."""
    conditions = " ".join(claim_sheet(made.five_panels()).say_with_it)
    for words in (
        "Of this job only",
        "chosen by the shop",
        "The least improved panel is right rear quarter: reduced by 24 %",
        "under one inspection lamp",
        "Wiped with solvent before the photograph, by the shop's own entry",
        "Photographed on 2026-05-12",
        "is 12 % brighter than the paint beside it, over at least 1 mm",
    ):
        assert words in conditions


def test_a_panel_that_cannot_be_compared_is_told_and_not_dropped() -> None:
    """All measured panels or none."""
    report = made.report(
        made.section("a", made.less(-80)),
        made.section("b", made.less(-70)),
        made.section("c", made.not_comparable()),
    )
    sheet = claim_sheet(report)
    assert (
        "on 2 of 3 measured panels of one car (1 cannot be compared; 2 places)"
        in said(sheet, "Visible marks").words
    )
    assert not said(sheet, "The before and after pictures").supported
    assert not said(sheet, "Marks were removed").supported
    assert "Not comparable and without a percentage: c." in sheet.say_with_it
    assert ("c", "not comparable") in sheet.panels


def test_the_best_panel_does_not_speak_for_all() -> None:
    """No picking: "up to" takes the best panel."""
    sentence = said(claim_sheet(made.five_panels()), "Up to 92 % fewer")
    assert not sentence.supported
    assert "picks the best panel (roof)" in sentence.why[0]


def test_one_job_is_not_typical() -> None:
    """16 CFR 255.2 (from memory): a shown result is read as what is generally expected."""
    assert not said(claim_sheet(made.five_panels()), "What customers can usually expect").supported


def test_no_interval_or_one_across_zero_supports_nothing() -> None:
    """A reasonable basis before publishing (FTC 1984; CAP Code 3.7)."""
    for record in (made.less(-4, half=10), made.record(made.change(9, 5, -44.0)), made.not_comparable()):
        sheet = claim_sheet(made.report(made.section("roof", record)))
        assert not said(sheet, "Visible marks reduced").supported
        assert not said(sheet, "Marks were removed").supported


def test_swirl_marks_do_not_speak_for_the_trails_that_polishing_left() -> None:
    """Omitting what qualifies a claim misleads (CAP Code 3.3, from memory)."""
    swirls = made.change(10.0, 2.0, -80.0, (-85.0, -75.0))
    marks = made.change(10.0, 4.0, -60.0, (-70.0, -50.0))
    sheet = claim_sheet(
        made.report(made.section("roof", made.record(marks, swirl=swirls, trail=made.change(0.0, 2.0))))
    )
    told = "Buffer trails that polishing left are not in it, say so: roof 2.0 mm/cm²."
    assert told in said(sheet, "Visible swirl marks reduced by 80 %").why
    assert told not in said(sheet, "Visible marks reduced by 60 %").why  # there they are among the marks
    without = claim_sheet(made.report(made.section("roof", made.less(-80.0))))
    assert not any("trails" in why for why in said(without, "Visible swirl marks").why)


def test_hidden_marks_are_not_removed_ones() -> None:
    hidden = made.report(
        made.section("a", made.less(-80, word="less visible")), made.section("b", made.less(-80))
    )
    sheet = claim_sheet(hidden)
    assert not said(sheet, "Marks were removed").supported
    assert said(sheet, "Visible marks").supported
    assert any(words.startswith("Less visible, not removed") for words in sheet.say_with_it)


@pytest.mark.parametrize("start", ["All scratches", "It lasts", "Without taking", "Measured to a standard"])
def test_some_sentences_are_never_supported(start: str) -> None:
    best = made.report(*(made.section(n, made.less(-99)) for n in "abc"))
    jobs = [JobResult(panels=3, compared=3, change_percent=-99.0)] * 9
    assert not said(claim_sheet(best, jobs=jobs), start).supported


def test_with_care_is_passed_on() -> None:
    careful = made.report(made.section("a", made.less(comparable="with care", reasons=["Exposure differs."])))
    assert "With care, a: Exposure differs." in said(claim_sheet(careful), "Visible marks").why


def test_sheet_says_that_rules_differ_by_place() -> None:
    rules = " ".join(claim_sheet(made.five_panels()).rules)
    assert "differ by place" in rules
    assert "no legal advice" in rules


def jobs(*changes: float | None) -> list[JobResult]:
    return [JobResult(panels=2, compared=0 if c is None else 2, change_percent=c) for c in changes]


def test_typical_result_is_students_interval_over_jobs() -> None:
    """Student's t(0.975, 2) = 4.302653 (printed tables; from memory), mean -70, standard deviation 10."""
    found = typical_result(jobs(-60, -70, -80))
    assert found.mean_percent == pytest.approx(-70)
    half = 4.302653 * 10 / 3**0.5
    assert found.ci95_percent == pytest.approx((-70 - half, -70 + half), abs=1e-3)
    assert (found.least_percent, found.most_percent) == (-60, -80)


def test_typical_result_leaves_no_job_out() -> None:
    assert typical_result(jobs(-60, -70, -80, None)).mean_percent is None
    assert "1 of 4 measured jobs cannot be compared" in typical_words(
        typical_result(jobs(-60, -70, -80, None))
    )


def test_typical_sentence_names_worst_and_best() -> None:
    sheet = claim_sheet(made.five_panels(), jobs=jobs(-70, -72, -74, -68))
    sentence = said(sheet, "Over all 4 measured jobs")
    assert sentence.supported
    assert "from reduced by 68 % to reduced by 74 %" in sentence.words


RECORDS = st.one_of(
    st.builds(
        lambda percent, half, word: made.less(percent, half=half, word=word),
        st.floats(-99, 60),
        st.floats(0.5, 40),
        st.sampled_from(["removed", "less visible"]),
    ),
    st.just(made.not_comparable()),
)


@settings(max_examples=80, deadline=None)
@given(st.lists(RECORDS, min_size=1, max_size=5))
def test_supported_claims_rest_on_proof(records: list[dict[str, Any]]) -> None:
    """Whatever the panels are: a supported reduction is below zero, a removal has every panel's word."""
    sections = [made.section(f"panel {n}", record, pictures=False) for n, record in enumerate(records)]
    report = made.report(*sections)
    for statement in claim_sheet(report).statements:
        if statement.supported and statement.words.startswith(("Visible marks", "Visible swirl")):
            rows = report.together or report.panels[0].figures
            assert rows[0].ci95_percent is not None
            assert rows[0].ci95_percent[1] < 0
        if statement.supported and statement.words.startswith("Marks were removed"):
            assert all(
                panel.word == "removed" and panel.figure("density all").tone == "better" for panel in sections
            )


def test_swirl_marks_do_not_stand_for_scratches() -> None:
    """A true figure may still mislead (Directive 2005/29/EC, article 6)."""
    record = made.less(-80)
    record["density_mm_per_cm2"]["scratch"] = made.change(2.0, 1.5, -25.0, (-40.0, 5.0))
    sentence = said(claim_sheet(made.report(made.section("roof", record))), "Visible swirl marks")
    assert sentence.supported
    assert any(
        why.startswith("Scratches are not in it, say so: no measurable change") for why in sentence.why
    )
