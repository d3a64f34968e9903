"""The record that `compare --json` writes."""

import json
from dataclasses import replace

import pytest

from defectmap.comparison.compare import compare_shots
from defectmap.comparison.contract import comparison_record, reduced, refused_record, side_records, spot_from
from defectmap.comparison.setup_contract import setup_record
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


def test_a_spot_is_read_back_as_it_was_written(record: Record) -> None:
    found = compare_shots([phantoms.before()], [phantoms.after()], after_stage="wiped").spots[0]
    again = spot_from(record["spots"][0], found.before, found.after)
    assert again.changes == found.changes
    assert again.common_area_cm2 == found.common_area_cm2
    assert again.comparable == found.comparable
    for name in ("by", "sureness", "turn_deg", "down_mm", "right_mm", "scale"):
        assert getattr(again.alignment, name) == getattr(found.alignment, name)


def test_a_spot_that_cannot_be_compared_is_read_back_with_its_reasons() -> None:
    found = compare_shots([phantoms.before()], [phantoms.before()]).spots[0]
    written = json.loads(
        json_text(comparison_record(compare_shots([phantoms.before()], [phantoms.before()])))
    )
    again = spot_from(written["spots"][0], found.before, found.after)
    assert again.changes == ()
    assert again.comparable.verdict == "no"
    assert [reason.code for reason in again.comparable.reasons] == [r.code for r in found.comparable.reasons]
    old = {key: value for key, value in written["spots"][0].items() if key != "reason_details"}
    assert spot_from(old, found.before, found.after).comparable.reasons == ()  # of version 0.1.0


@pytest.mark.parametrize("by", ["marks", "texture", "hotspot"])
def test_what_laid_a_spot_is_what_was_sure(record: Record, by: str) -> None:
    spot = {**record["spots"][0], "alignment": {**record["spots"][0]["alignment"], "by": by, "sureness": 2.5}}
    pose = spot_from(spot, phantoms.before().measured, phantoms.after().measured).alignment
    assert pose.sureness == 2.5
    assert pose.marks_sureness == (2.5 if by == "marks" else 0.0)
    assert pose.texture_sureness == (2.5 if by == "texture" else 0.0)
    unsure = {**spot, "alignment": {**spot["alignment"], "sureness": None}, "common_area_cm2": None}
    laid = spot_from(unsure, phantoms.before().measured, phantoms.after().measured)
    assert (laid.alignment.sureness, laid.common_area_cm2) == (0.0, 0.0)


@pytest.mark.parametrize(
    ("change", "comparable", "proven"),
    [
        ({"change_percent": -40.0, "distinguishable": True}, "yes", True),
        ({"change_percent": -40.0, "distinguishable": True}, "with care", True),
        ({"change_percent": -40.0, "distinguishable": True}, "no", False),
        ({"change_percent": -40.0, "distinguishable": False}, "yes", False),
        ({"change_percent": 40.0, "distinguishable": True}, "yes", False),
        ({"change_percent": 0.0, "distinguishable": True}, "yes", False),
        ({"change_percent": -100.0, "distinguishable": None, "at_least_percent": 0.5}, "yes", True),
        ({"change_percent": -100.0, "distinguishable": None, "at_least_percent": 0.0}, "yes", False),
        ({"change_percent": None, "distinguishable": None}, "yes", False),
    ],
)
def test_a_reduction_is_named_only_where_it_is_beyond_doubt(
    change: Record, comparable: str, proven: bool
) -> None:
    assert reduced({"comparable": comparable, "density_mm_per_cm2": {"all": change}}) is proven
    assert reduced({"comparable": comparable}) is False


def test_each_side_is_a_list_however_many_spots() -> None:
    one, two = {"score": 1.0}, {"score": 2.0}
    assert side_records({"before": one}, "before") == [one]
    assert side_records({"before": [one, two]}, "before") == [one, two]
    assert side_records({}, "after") == []


def test_a_refusal_keeps_every_photograph_of_both_sides() -> None:
    dark, fine = refusal_record("dark.jpg", "Too dark."), {"photo": {"name": "fine.jpg"}, "refused": None}
    record = refused_record([dark], [fine])
    assert (record["before"], record["after"], record["reasons"]) == (dark, fine, ["Too dark."])
    record = refused_record([fine, dark], [fine, fine])
    assert (record["before"], record["after"]) == ([fine, dark], [fine, fine])


def test_repeatability_is_written_in_percent() -> None:
    written = setup_record(ASSUMED)["figures"]["haze"]
    scatter = ASSUMED.figures["haze"]
    assert written["repeatability_sd_percent"] == pytest.approx(100 * scatter.relative)
    assert written["common_sd_percent"] == pytest.approx(100 * scatter.common)
    assert written["repeatability_limit_percent"] == pytest.approx(scatter.limit_percent)
    assert written["degrees_of_freedom"] == scatter.df


def test_figures_that_cannot_be_compared_are_means_of_each_zone() -> None:
    shots = [phantoms.before(), phantoms.before()]
    record = comparison_record(compare_shots(shots, shots))
    assert record["figures_of"] == "own zone"
    mean = sum(shot.measured.density.all for shot in shots) / 2
    assert record["density_mm_per_cm2"]["all"]["before"] == pytest.approx(mean)


def test_a_set_ups_limits_are_those_of_iso_5725() -> None:
    """r = 1.96 sqrt(2) s for either standard deviation (ISO 5725-6); in percent, as the deviations are."""
    scatter = replace(ASSUMED.figures["haze"], reproducibility=0.25)
    record = setup_record(replace(ASSUMED, figures={"haze": scatter}))["figures"]["haze"]
    assert record["reproducibility_sd_percent"] == pytest.approx(25)
    assert record["reproducibility_limit_percent"] == pytest.approx(1.96 * 2**0.5 * 25, rel=1e-3)
    alone = setup_record(replace(ASSUMED, figures={"haze": replace(scatter, reproducibility=None)}))
    assert alone["figures"]["haze"]["reproducibility_limit_percent"] is None


def test_a_set_up_tells_the_scatter_in_the_common_area_and_in_each_own_zone() -> None:
    scatter = replace(ASSUMED.figures["density all"], own_zones=0.027)
    record = setup_record(replace(ASSUMED, figures={"density all": scatter, "haze": ASSUMED.figures["haze"]}))
    assert record["figures_of"] == "common area"
    assert record["figures"]["density_all"]["own_zones_sd_percent"] == pytest.approx(2.7)
    assert record["figures"]["haze"]["own_zones_sd_percent"] is None
