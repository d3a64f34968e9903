"""The record that `compare --json` writes."""

import json

import pytest

from defectmap.comparison.compare import compare_shots
from defectmap.comparison.contract import comparison_record, refused_record, setup_record
from defectmap.comparison.setup_profile import ASSUMED
from defectmap.panel.codec import Record, json_text, refusal_record
from tests.comparison import phantoms

KEYS = {"before", "after", "change_percent", "ci95_percent", "distinguishable"}


@pytest.fixture(scope="module")
def record() -> Record:
    found = compare_shots([phantoms.before()], [phantoms.after()], after_stage="wiped")
    return dict(json.loads(json_text(comparison_record(found))))


def test_keys_of_the_contract(record: Record) -> None:
    assert record["schema"] == 1
    assert record["comparable"] == "yes"
    assert record["reasons"] == []
    density = record["density_mm_per_cm2"]
    for change in (
        density["all"],
        density["swirl"],
        density["scratch"],
        record["longest_scratch_mm"],
        record["haze"],
        record["score"],
    ):
        assert set(change) >= KEYS


def test_both_photographs_without_points(record: Record) -> None:
    for side in ("before", "after"):
        assert record[side]["photo"]["name"] == f"{side}.jpg"
        assert record[side]["marks"]
        assert "points" not in record[side]["marks"][0]


def test_percent_and_interval_agree(record: Record) -> None:
    change = record["density_mm_per_cm2"]["all"]
    assert change["change_percent"] == pytest.approx(100 * (change["after"] / change["before"] - 1))
    assert change["ci95_percent"][0] < change["change_percent"] < change["ci95_percent"][1]


def test_claim_is_written(record: Record) -> None:
    assert record["claim"]["word"] == "removed"


def test_not_comparable_has_no_percentage() -> None:
    record = comparison_record(compare_shots([phantoms.before()], [phantoms.before()]))
    assert record["comparable"] == "no"
    assert record["reasons"]
    change = record["density_mm_per_cm2"]["all"]
    assert change["before"] > 0
    assert (change["change_percent"], change["ci95_percent"], change["distinguishable"]) == (None, None, None)


def test_several_spots_are_arrays() -> None:
    pair = [phantoms.before(), phantoms.before()], [phantoms.after(), phantoms.after()]
    record = comparison_record(compare_shots(*pair))
    assert [len(record[side]) for side in ("before", "after", "spots")] == [2, 2, 2]
    assert record["scope"] == "these spots"


def test_refused_photograph() -> None:
    refused = refusal_record("dark.jpg", "dark.jpg is too dark; add light.")
    record = refused_record([refused], [refused])
    assert record["comparable"] == "no"
    assert record["reasons"][0] == "dark.jpg is too dark; add light."


def test_setup_is_plain_json() -> None:
    record = setup_record(ASSUMED)
    assert json.loads(json_text(record))["figures"]["density_all"]["repeatability_sd_percent"] > 0
