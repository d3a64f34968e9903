"""From the record of a comparison to what a person reads."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from defectmap.words.report_words import change_words, interval_words, percent, plain_words, without_commands
from tests.report import made


def test_reduction_is_told_with_its_interval():
    row = made.section("roof", made.less(-71.4, half=6.0)).figure("density all")
    assert (row.outcome, row.tone) == ("less", "better")
    assert (row.change_text, row.interval_text) == ("71 % less", "65 to 77 % less")


def test_interval_across_zero_is_no_change():
    row = made.section("roof", made.less(-4.0, half=10.0)).figure("density all")
    assert (row.outcome, row.change_text, row.tone) == ("no provable change", "no provable change", "open")
    assert row.interval_text == "from 14 % less to 6 % more"


def test_not_comparable_carries_no_percentage_whatever_the_record_holds():
    record = made.not_comparable()
    record["density_mm_per_cm2"]["all"].update(change_percent=-66.0, ci95_percent=[-70.0, -60.0])
    panel = made.section("roof", record)
    assert not panel.compared
    for row in panel.figures:
        assert row.outcome == "not comparable"
        assert (row.change_percent, row.ci95_percent, row.interval_text) == (None, None, "")
    assert panel.reasons == ("The lamp is another one; use the same lamp.",)


def test_clean_after_is_at_least():
    marks = made.change(6.0, 0.0, -100.0, (-100.0, -96.0), at_least_percent=96.0)
    row = made.section("roof", made.record(marks)).figure("density all")
    assert (row.outcome, row.change_text) == ("nothing left", "at least 96 % less")


def test_nothing_before_has_no_percentage():
    row = made.section("roof", made.less()).figure("density scratch")
    assert (row.outcome, row.change_text) == ("nothing before", "none seen, either time")
    appeared = made.record(made.change(0.0, 2.0))
    assert made.section("roof", appeared).figure("density all").change_text == "none seen before"


def test_a_score_that_rises_is_better_and_marks_that_rise_are_worse():
    panel = made.section("roof", made.less(40.0))
    assert panel.figure("score").tone == "better"
    assert panel.figure("density all").tone == "worse"


def trails(before: float, after: float, **more):
    """The record of a panel with that much of buffer trails, 6 mm/cm² of swirl marks and no scratch."""
    marks = made.change(6.0 + before, 6.0 + after, 10.0, (-40.0, 90.0))
    return made.record(marks, swirl=made.change(6.0, 6.0, 0.0, (-40.0, 90.0)), **more)


def test_trails_that_polishing_left_stand_between_the_other_kinds():
    panel = made.section("roof", trails(0.0, 5.0))
    assert [row.figure for row in panel.figures][2:4] == ["density scratch", "density trail"]
    row = panel.figure("density trail")
    assert (row.before_text, row.after_text, row.change_text) == ("0.00", "5.0", "no percentage")
    assert "finishing pass" in row.note
    assert panel.left == "11.0 mm/cm², 5.0 of it buffer trails"
    assert row.tone == "open"  # no interval says that it is more


def test_trails_that_were_there_already_are_not_put_down_to_the_work():
    assert made.section("roof", trails(5.0, 1.0)).figure("density trail").note == ""
    compared = made.section("roof", trails(0.0, 5.0, comparable="no"))
    assert compared.figure("density trail").change_text == "not comparable"
    assert compared.figure("density trail").note == ""


def test_a_panel_without_trails_has_no_line_about_them():
    """0.1 + 0.2 is not 0.3 in binary: what is left of such a sum is no trail."""
    marks = made.record(made.change(0.1 + 0.2, 0.3), swirl=made.change(0.3, 0.3))
    for record in (marks, made.less(), {"comparable": "no", "reasons": ["Not measured."]}):
        assert "density trail" not in [row.figure for row in made.section("roof", record).figures]


def test_no_word_is_supported_without_a_proven_reduction():
    assert made.section("roof", made.less(-71.4, half=6.0)).supported_word == "removed"
    assert made.section("roof", made.less(-4.0, half=10.0)).supported_word == ""
    assert made.section("roof", made.less(40.0)).supported_word == ""


def test_without_a_scale_every_length_says_so():
    panel = made.section("roof", made.less(source="none"))
    units = {row.figure: row.unit for row in panel.figures}
    assert not panel.calibrated
    assert all("uncalibrated" in unit for figure, unit in units.items() if figure not in ("haze", "score"))


def test_refused_photograph_gives_a_section_with_the_reason():
    refused = {"refused": "x.jpg is too dark; open the lens.", "photo": {"name": "x.jpg", "sha256": None}}
    record = {"comparable": "no", "reasons": [refused["refused"]], "before": refused, "after": made.side("y")}
    panel = made.section("roof", record)
    assert panel.figure("density all").before_text == "–"
    assert panel.left == "not measured"


@given(st.floats(0.0, 99.9999))
def test_rounding_never_claims_all(magnitude):
    # a customer reads "100 %" as "every mark": only an exact 100 may say so
    assert percent(magnitude) != "100 %"


@given(st.floats(-100, 500), st.floats(-100, 500))
def test_interval_words_hold_both_ends(one, other):
    low, high = sorted((one, other))
    words = interval_words((low, high))
    if low < -0.5 and high > 0.5:
        assert change_words(low) in words
        assert change_words(high) in words
    elif high <= 0:
        assert words.endswith("less")
    elif low >= 0:
        assert words.endswith("more")


@given(st.text())
def test_plain_words_hold_nothing_that_is_not_seen(words):
    plain = plain_words(words)
    assert plain.isprintable()
    assert plain == plain_words(plain)
    assert not set(plain) & set("\u202a\u202b\u202d\u202e\u2066\u2067\u2068")


@pytest.mark.parametrize("end", [None, 3.0])
def test_unbounded_interval_says_so(end):
    # Fieller 1954: an interval without bounds is a result and must be told
    words = interval_words((None, end)) if end else interval_words((None, None))
    assert "no" in words
    assert "bound" in words


@pytest.mark.parametrize(
    ("told", "read"),
    [
        ("Assumed; shoot it five times and run `defectmap repeat` to know it.", "Assumed."),
        ("Wide; run `defectmap repeat` again; the lamp was moved.", "Wide; the lamp was moved."),
        ("Run `defectmap job measure J1` first.", ""),
        ("The lamp is another one; use the same lamp.", "The lamp is another one; use the same lamp."),
        ("Made by defectmap 0.1", "Made by defectmap 0.1"),
    ],
)
def test_commands_are_for_the_shop_and_not_for_the_reader(told, read):
    assert without_commands(told) == read
    record = made.less(warnings=[told], reasons=[told])
    panel = made.section("roof", record)
    assert panel.warnings == panel.reasons == ((read,) if read else ())
