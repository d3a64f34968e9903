"""From the record of a comparison to what a person reads."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from defectmap.report.claims import claim_sheet
from defectmap.report.layout import bars_heading, strength_note
from defectmap.report.privacy import Aliases, PrivacyChoice
from defectmap.report.sections import panel_section
from defectmap.words.report_words import plain_words
from defectmap.words.style import Style
from defectmap.words.writer import Writer
from tests.report import made


def test_reduction_is_told_with_its_interval() -> None:
    row = made.section("roof", made.less(-71.4, half=6.0)).figure("density all")
    assert (row.outcome, row.tone) == ("less", "better")
    assert (row.change_text, row.interval_text) == ("reduced by 71 %", "65 to 77 %")


def test_interval_across_zero_is_no_change() -> None:
    row = made.section("roof", made.less(-4.0, half=10.0)).figure("density all")
    assert (row.outcome, row.change_text, row.tone) == ("no provable change", "no measurable change", "open")
    assert row.interval_text == "−14 to +6 %"


def test_not_comparable_carries_no_percentage_whatever_the_record_holds() -> None:
    record = made.not_comparable()
    record["density_mm_per_cm2"]["all"].update(change_percent=-66.0, ci95_percent=[-70.0, -60.0])
    panel = made.section("roof", record)
    assert not panel.compared
    for row in panel.figures:
        assert row.outcome == "not comparable"
        assert (row.change_percent, row.ci95_percent, row.interval_text) == (None, None, "")
    assert panel.reasons == ("The lamp is another one; use the same lamp.",)


def test_clean_after_is_at_least() -> None:
    marks = made.change(6.0, 0.0, -100.0, (-100.0, -96.0), at_least_percent=96.0)
    row = made.section("roof", made.record(marks)).figure("density all")
    assert (row.outcome, row.change_text) == ("nothing left", "reduced by at least 96 %")


def test_nothing_before_has_no_percentage() -> None:
    row = made.section("roof", made.less()).figure("density scratch")
    assert (row.outcome, row.change_text) == ("nothing before", "none seen, either time")
    appeared = made.record(made.change(0.0, 2.0))
    assert made.section("roof", appeared).figure("density all").change_text == "none seen before"


def test_a_score_that_rises_is_better_and_marks_that_rise_are_worse() -> None:
    panel = made.section("roof", made.less(40.0))
    assert panel.figure("score").tone == "better"
    assert panel.figure("density all").tone == "worse"


def trails(before: float, after: float, **more: str) -> dict[str, Any]:
    """The record of a panel with that much of buffer trails, 6 mm/cm² of swirl marks and no scratch."""
    marks = made.change(6.0 + before, 6.0 + after, 10.0, (-40.0, 90.0))
    swirl = made.change(6.0, 6.0, 0.0, (-40.0, 90.0))
    return made.record(marks, swirl=swirl, trail=made.change(before, after), **more)


def test_trails_that_polishing_left_stand_between_the_other_kinds() -> None:
    panel = made.section("roof", trails(0.0, 5.0))
    assert [row.figure for row in panel.figures][2:4] == ["density scratch", "density trail"]
    row = panel.figure("density trail")
    assert (row.before_text, row.after_text, row.change_text) == ("0.00", "5.0", "none seen before")
    assert "finishing pass" in row.note
    assert panel.left == "11.0 mm/cm², 5.0 of it buffer trails"
    assert row.tone == "open"  # no interval says that it is more


def test_trails_that_were_there_already_are_not_put_down_to_the_work() -> None:
    assert made.section("roof", trails(5.0, 1.0)).figure("density trail").note == ""
    compared = made.section("roof", trails(0.0, 5.0, comparable="no"))
    assert compared.figure("density trail").change_text == "not comparable"
    assert compared.figure("density trail").note == ""


def test_a_panel_without_trails_has_no_line_about_them() -> None:
    for record in (made.less(), {"comparable": "no", "reasons": ["Not measured."]}):
        assert "density trail" not in [row.figure for row in made.section("roof", record).figures]


def test_no_word_is_supported_without_a_proven_reduction() -> None:
    assert made.section("roof", made.less(-71.4, half=6.0)).supported_word == "removed"
    assert made.section("roof", made.less(-4.0, half=10.0)).supported_word == ""
    assert made.section("roof", made.less(40.0)).supported_word == ""


def test_without_a_scale_every_length_says_so() -> None:
    panel = made.section("roof", made.less(source="none"))
    units = {row.figure: row.unit for row in panel.figures}
    assert not panel.calibrated
    assert all("uncalibrated" in unit for figure, unit in units.items() if figure not in ("haze", "score"))


def test_a_score_that_no_photograph_has_has_no_line() -> None:
    without = made.section("roof", made.less(source="none", score=made.change(None, None)))
    assert "score" not in [row.figure for row in without.figures]


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({}, "common area of both photographs: mm of line"),
        ({"source": "none"}, "common area of both photographs"),
        ({"filmed": True}, "of films, each direction where both could show it: mm of line"),
    ],
)
def test_the_bars_say_what_they_are_of(more: dict[str, Any], words: str) -> None:
    filmed = more.pop("filmed", False)
    section = replace(made.section("roof", made.less(**more)), filmed="Filmed." if filmed else "")
    report = made.report(section)
    assert words in bars_heading(report)
    assert ("cm²" in bars_heading(report)) is section.calibrated
    assert ("film" in strength_note(report)) is filmed


def test_refused_photograph_gives_a_section_with_the_reason() -> None:
    refused = {"refused": "x.jpg is too dark; open the lens.", "photo": {"name": "x.jpg", "sha256": None}}
    record = {"comparable": "no", "reasons": [refused["refused"]], "before": refused, "after": made.side("y")}
    panel = made.section("roof", record)
    assert panel.figure("density all").before_text == "–"
    assert panel.left == "not measured"


@given(st.text())
def test_plain_words_hold_nothing_that_is_not_seen(words: str) -> None:
    plain = plain_words(words)
    assert plain.isprintable()
    assert plain == plain_words(plain)
    assert not set(plain) & set("\u202a\u202b\u202d\u202e\u2066\u2067\u2068")


def test_what_the_shop_is_told_to_type_is_not_for_the_reader() -> None:
    assumed = {"code": "scatter assumed", "values": {}}
    kept = ["It is assumed. Run `defectmap repeat`."]
    panel = made.section("roof", made.less(warnings=kept, warning_details=[assumed]))
    assert panel.warnings == ("How well a photograph repeats with this set-up is assumed, not measured.",)


def test_names_of_files_in_a_remark_become_places() -> None:
    aliases = Aliases(PrivacyChoice())
    aliases.add("AB 123 roof.jpg", "the photograph wiped of roof")
    detail = {
        "topic": "order",
        "verdict": "with care",
        "code": "cameras differ",
        "values": {"before": "AB 123 roof.jpg", "after": "camera"},
    }
    record = made.less(comparable="with care", reasons=["…"], reason_details=[detail])
    (reason,) = panel_section("roof", record, aliases=aliases).reasons
    assert "the photograph wiped of roof" in reason
    assert "AB 123" not in reason


def test_a_worsened_panel_is_not_excused_with_clear_coat() -> None:
    panel = made.section("roof", made.less(40.0), why="Kept for later years.")
    assert "later years" not in panel.why_left
    assert panel.why_left.startswith("Worse than before")
    assert panel.headline.startswith("Worse")


def test_removed_rests_on_the_shops_own_entry_and_says_so() -> None:
    assert "shop's own entry" in made.section("roof", made.less()).word_reason


@pytest.mark.parametrize(
    ("details", "same"),
    [
        (None, False),  # from before there were codes: nothing says so
        ([], True),
        (
            [
                {
                    "topic": "lamp",
                    "verdict": "with care",
                    "code": "halo shape",
                    "values": {"found": 0.1, "limit": 0.07},
                }
            ],
            False,
        ),
        (
            [{"topic": "focus", "verdict": "with care", "code": "one merged", "values": {"side": "after"}}],
            True,
        ),
    ],
)
def test_the_same_lamp_only_where_the_check_says_so(details: list[dict[str, Any]] | None, same: bool) -> None:
    record = made.less(reasons=["A reason."] if details else [])
    if details is not None:
        record["reason_details"] = details
    assert made.section("roof", record).same_lamp is same


def test_inches_stand_where_the_shop_chose_them() -> None:
    # NIST SP 811, B.8: 1 inch = 25.4 mm exactly; 10 mm/cm² = 10 / 25.4 inch over (1 / 2.54) ** 2 square inch
    record = made.less(-80.0, before=10.0)
    panel = panel_section(
        "roof", record, aliases=Aliases(PrivacyChoice()), writer=Writer(Style(length="inch"))
    )
    row = panel.figure("density all")
    assert (row.before_text, row.unit) == (f"{10 / 25.4 * 2.54**2:.1f}", "in/in²")
    assert row.before == 10.0  # the table of figures keeps one unit


def test_strength_is_the_mean_over_the_spots() -> None:
    def spot(*densities: int) -> dict[str, dict[str, float | str] | dict[str, int] | dict[str, str]]:
        return {
            **made.side("x"),
            "strength_mm_per_cm2": dict(zip(("50", "100", "200", "400"), densities, strict=True)),
        }

    record = made.less()
    record["before"] = [spot(20, 10, 4, 2), spot(10, 6, 2, 0)]
    record["after"] = [spot(5, 2, 1, 1), spot(3, 2, 1, 1)]
    rows = made.section("roof", record).strength
    assert [(row.before, row.after) for row in rows] == [(15, 4), (8, 2), (3, 1), (1, 1)]
    assert made.section("roof", made.less()).strength == ()


def test_corrections_by_hand_are_counted_and_printed() -> None:
    by_hand = {"removed": 2, "kind_changed": 0, "areas": 1, "change_percent_without": -70.0}
    panel = made.section("roof", made.less(-71, by_hand=by_hand))
    told = "2 marks removed by hand and 1 area left out by hand: reduced by 71 % instead of reduced by 70 %."
    assert panel.by_hand == told
    report = made.report(panel)
    assert told in " ".join(claim_sheet(report).say_with_it)
    assert made.section("roof", made.less()).by_hand == ""


def test_why_only_less_visible_is_told_by_its_codes_and_as_kept_where_there_are_none() -> None:
    kept = "Polishing oils may hide marks."
    old = made.less(-60, word="less visible")
    old["claim"] |= {"reason": kept, "reason_code": "record"}  # as earlier versions kept it
    assert made.section("roof", old).word_reason == kept
    new = made.less(-60, word="less visible")
    new["claim"] |= {"reason": kept, "reason_codes": ["dirt before", "filler recorded"]}
    told = made.section("roof", new, style=Style(language="de")).word_reason
    assert told.startswith("Das Vorher-Foto entstand vor dem Dekontaminieren")
    assert "Füller" in told
