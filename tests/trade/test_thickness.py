"""Film thickness: what rules a place, what is asked about, what came off."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from defectmap.trade.budget import Budget, budget_for
from defectmap.trade.facts import ReadingRecord
from defectmap.trade.removal import removal_of, removed
from defectmap.trade.tables import load_tables
from defectmap.trade.thickness import (
    PlaceThickness,
    high_readings,
    life_readings,
    panel_thickness,
    place_thickness,
    vehicle_thickness,
)
from defectmap.trade.tuning import REPEATS_NEEDED
from defectmap.words.trade_words import told, told_all
from tests.trade.rules import history, panel, readings, step

TABLES = load_tables()
FILM, GAUGE = TABLES.film, TABLES.gauge


def place(*found: ReadingRecord) -> PlaceThickness:
    return place_thickness("middle", found, GAUGE)


def said(found: PlaceThickness) -> str:
    return " ".join(told_all(found.remarks))


def codes(found: PlaceThickness) -> set[str]:
    return {remark.code for remark in found.remarks}


# At least three readings in a circle of about 4 cm; a high one that does not repeat is left out of the mean
# (SSPC-PA 2, as quoted in a public excerpt). The lowest rules (our own caution: paint does not grow back).
@pytest.mark.parametrize(
    ("values", "mean", "high", "lowest"),
    [
        ([110, 112, 111], 111.0, (), 110),
        ([110, 112], None, (), 110),
        ([110], None, (), 110),
        ([110, 112, 150], None, (150,), 110),  # two are left: not a measured place
        ([110, 112, 111, 150], 111.0, (150,), 110),
        ([110, 112, 111, 150, 151], 126.8, (), 110),  # it repeats, so it is the paint and not the reading
        ([110, 110, 110, 115], 111.25, (), 110),
        ([62, 63, 120, 121, 119], 97.0, (), 62),  # the mean is shown; it rules nothing
        ([118, 121, 119, 62], 105.0, (), 62),
    ],
)
def test_the_lowest_rules_and_a_high_one_is_left_out_of_the_mean(
    values: list[float], mean: float | None, high: tuple[float, ...], lowest: float
) -> None:
    found = place(*readings(*values))
    assert found.mean_um == (None if mean is None else pytest.approx(mean))
    assert (found.odd_um, found.lowest_um) == (high, lowest)
    assert found.readings_um == tuple(values)  # all are still shown


@pytest.mark.parametrize("values", [[118, 121, 119, 62], [62, 120, 121, 119], [62, 63, 120, 121, 119]])
def test_a_low_reading_stops_in_whatever_order_it_comes(values: list[float]) -> None:
    found = place(*readings(*values))
    assert found.unexplained_um == 62
    assert "nothing explains it" in said(found)


def test_a_low_reading_that_repeats_twice_is_the_paint() -> None:
    found = place(*readings(118, 121, 119, 95), *readings(96, 94, again=True))
    assert (found.unexplained_um, found.lowest_um) == (None, 94)


def test_a_low_reading_is_settled_by_two_further_ones_at_that_point() -> None:
    low = readings(118, 121, 119, 95)
    assert place(*low, *readings(118, again=True)).unexplained_um == 95  # one is not enough
    assert place(*low, *readings(118, 126, again=True)).unexplained_um == 95  # they do not agree
    assert place(*low, *readings(118, 119)).unexplained_um == 95  # elsewhere in the circle: not that point
    found = place(*low, *readings(118, 119, again=True))
    assert (found.unexplained_um, found.lowest_um) == (None, 118)
    assert "did not repeat" in said(found)
    assert 95 in found.readings_um


def test_two_low_readings_need_more_than_two_further_ones() -> None:
    assert place(*readings(118, 121, 119, 95, 97), *readings(118, 119, again=True)).unexplained_um == 95


@pytest.mark.parametrize("why", ["edge", "repair"])
def test_an_explained_low_reading_rules_nothing_and_is_kept_off(why: str) -> None:
    found = place(*readings(118, 121, 119), *readings(62, explained=why))
    assert (found.unexplained_um, found.lowest_um, found.explained_um) == (None, 118, (62,))
    assert "Keep the machine off" in said(found)


def test_one_low_reading_at_a_place_of_its_own_counts() -> None:
    film = panel_thickness(
        "bonnet", readings(118, 121, 119) + readings(62, place="near the arch"), FILM, GAUGE
    )
    assert film.minimum_um == 62
    assert [one.place for one in film.unexplained] == ["near the arch"]


def test_the_newest_stage_rules() -> None:
    found = place(*readings(84, 85, 86, stage="decontaminated"), *readings(77, 78, 77, stage="wiped"))
    assert (found.lowest_um, found.stage, found.readings_um) == (77, "wiped", (77, 78, 77))
    late = place(*readings(77, 78, 77, stage="wiped"), *readings(84, 85, 86, stage="decontaminated"))
    assert late.lowest_um == 77  # entered late, it still belongs to the earlier stage


def test_paint_does_not_grow() -> None:
    found = place(*readings(100, 101, 102, stage="decontaminated"), *readings(130, 131, 132, stage="wiped"))
    assert found.lowest_um == 100
    assert "paint does not grow" in said(found)
    within = place(*readings(100, 101, 102, stage="decontaminated"), *readings(104, 105, 106, stage="wiped"))
    assert (within.lowest_um, codes(within)) == (104, set())  # within what the gauge is uncertain by


def test_a_low_reading_before_polishing_still_stops_after_it() -> None:
    found = place(
        *readings(118, 121, 119, 95, stage="decontaminated"), *readings(117, 118, 119, stage="wiped")
    )
    assert found.unexplained_um == 95


def test_an_open_low_reading_of_before_rules_over_newer_ones_within_the_gauges_doubt() -> None:
    before = readings(118, 121, 119, 110, stage="decontaminated")  # 9 µm below the median: not explained
    found = place(*before, *readings(113, 114, 115, stage="wiped"))
    assert (found.unexplained_um, found.lowest_um) == (110, 110)


def test_readings_of_earlier_jobs_belong_to_the_place_unless_it_was_painted_since() -> None:
    old = readings(118, 119, 120, job="2024", at="2024-05-01")
    new = readings(113, 114, 115, job="2026", at="2026-05-01")
    both = history(readings=new, earlier_readings=old)
    film = panel_thickness("bonnet", life_readings(both), FILM, GAUGE)
    assert film.minimum_um == 113
    painted = history(panel=panel(painted_on="2025-01-01"), readings=new, earlier_readings=old)
    assert life_readings(painted) == new


@pytest.mark.parametrize(
    ("um", "code"),
    [
        (75, "too thin"),
        (90, "thinner than usual"),
        (120, None),
        (240, "probably repainted"),
        (420, "probably filled"),
    ],
)
def test_a_single_panel_says_what_its_thickness_means(um: float, code: str | None) -> None:
    """Factory paint 100 to 180 µm, filler from about 300 µm: common practice, no source."""
    remarks = panel_thickness("bonnet", readings(um, um, um), FILM, GAUGE).remarks
    assert [remark.code for remark in remarks] == ([] if code is None else [code])
    assert told_all(remarks) is not None


def test_a_panel_unlike_the_rest_of_the_car_is_remarked_on() -> None:
    films = [
        history(panel=panel(name=name), readings=readings(um, um + 1, um + 2))
        for name, um in [
            ("bonnet", 110),
            ("roof", 115),
            ("left door", 118),
            ("right door", 170),
            ("wing", 420),
        ]
    ]
    found = {film.panel: " ".join(told_all(film.remarks)) for film in vehicle_thickness(films, FILM, GAUGE)}
    assert "on the median panel" in found["right door"]
    assert "filler" in found["wing"]
    assert found["bonnet"] == found["roof"] == found["left door"] == ""


def test_readings_that_are_not_three_do_not_measure_a_panel() -> None:
    few = history(readings=readings(120, 121))
    film = panel_thickness("bonnet", few.readings, FILM, GAUGE)
    assert not film.measured
    budget = budget_for(few, film, FILM, GAUGE)
    assert (budget.known, budget.left_um) == (False, 0.0)


def test_before_minus_after_is_a_figure_with_its_uncertainty() -> None:
    found = history(
        step("correct", removal=(3, 6)),
        readings=readings(117, 118, 119, stage="decontaminated") + readings(111, 112, 113, stage="wiped"),
    )
    (one,) = removal_of(found, GAUGE).places
    assert (one.before_um, one.after_um, one.removed_um) == (118, 112, 6)
    # by hand: (3 + 3.54, 3 + 3.36) in quadrature is 9.12
    assert one.uncertainty_um == pytest.approx(9.12, abs=0.01)
    assert not one.told_apart
    assert "cannot be told from nothing" in told(removed(one, removal_of(found, GAUGE).estimated_um))
    assert removal_of(history(readings=readings(117, 118, 119)), GAUGE).places == ()


film_values = st.floats(60, 140)
entries = st.lists(
    st.tuples(film_values, st.booleans(), st.sampled_from(["decontaminated", "wiped"])), max_size=8
)


def allowed(*found: ReadingRecord) -> Budget:
    h = history(step("correct", removal=(1, 2)), readings=tuple(found))
    return budget_for(h, panel_thickness("bonnet", h.readings, FILM, GAUGE), FILM, GAUGE)


@given(
    st.floats(85, 140),
    st.lists(st.floats(0, 4), min_size=2, max_size=5),
    st.lists(st.tuples(st.floats(0, 60), st.booleans(), st.booleans()), max_size=6),
)
def test_no_low_reading_raises_what_is_allowed(
    usual: float, spread: list[float], lows: list[tuple[float, bool, bool]]
) -> None:
    """However low readings are entered among plain ones (again, explained), they never allow more."""
    base = readings(usual, *(usual + more for more in spread), stage="decontaminated")
    low = [
        one
        for less, again, explained in lows
        for one in readings(
            max(1.0, usual - less),
            again=again,
            explained="edge" if explained else None,
            stage="decontaminated",
        )
    ]
    assert allowed(*base, *low).left_um <= allowed(*base).left_um + 1e-9
    assert allowed(*low, *base).left_um <= allowed(*base).left_um + 1e-9


@given(entries)
def test_allowed_never_exceeds_thinnest_credible_less_floor_less_uncertainty_less_spent(
    found: list[tuple[float, bool, str]],
) -> None:
    all_of_them = [one for value, again, stage in found for one in readings(value, again=again, stage=stage)]
    budget = allowed(*all_of_them)
    film = panel_thickness("bonnet", all_of_them, FILM, GAUGE)
    if film.minimum_um is None or budget.left_um == 0:
        return
    most = film.minimum_um - FILM.thin_um - GAUGE.uncertainty_um(film.minimum_um) - budget.spent_um.high
    assert budget.left_um <= most + 1e-9
    assert film.unexplained == ()


@pytest.mark.parametrize("others", [(95, 95), (95, 96, 97)])
def test_one_further_low_reading_does_not_lift_the_stop_of_another(others: tuple[float, ...]) -> None:
    stopped = allowed(*readings(89, *others))
    assert stopped.unexplained
    assert stopped.left_um == 0
    again = allowed(*readings(88, 89, *others))  # its median is nearer the low ones; two must agree, not one
    assert again.unexplained
    assert again.left_um == 0
    assert not allowed(*readings(87, 88, 89, *others)).unexplained


places = st.sampled_from(["middle", "edge"])
sequences = st.lists(
    st.tuples(film_values, st.booleans(), st.sampled_from(["decontaminated", "wiped"]), places),
    min_size=3,
    max_size=9,
)


@given(
    sequences,
    st.integers(0, 9),
    st.floats(1, 60),
    st.booleans(),
    st.sampled_from(["decontaminated", "wiped"]),
    places,
)
def test_a_low_reading_anywhere_in_any_sequence_of_entries_never_allows_more(
    found: list[tuple[float, bool, str, str]], at: int, less: float, again: bool, stage: str, place: str
) -> None:
    """Over places, stages and second looks: put in where one likes, what is lower than all allows no more."""
    entered = [
        one
        for value, second, when, where in found
        for one in readings(value, again=second, stage=when, place=where)
    ]
    before = allowed(*entered)
    if not before.known:  # too few to allow anything: one more can only measure what was not
        return
    value = max(1.0, min(one.value_um for one in entered) - less)
    agreeing = [
        one
        for one in entered
        if (one.place, one.stage) == (place, stage) and one.value_um - value <= GAUGE.repeat_um
    ]
    if len(agreeing) >= REPEATS_NEEDED or (again and any(one.again for one in agreeing)):
        return  # further readings that agree are what a stop asks for
    low = readings(value, again=again, stage=stage, place=place)
    assert allowed(*entered[:at], *low, *entered[at:]).left_um <= before.left_um + 1e-9


@given(st.lists(film_values, min_size=1, max_size=12))
def test_high_readings_are_single_and_the_fewer(values: list[float]) -> None:
    high = high_readings(values, GAUGE)
    assert len(high) <= len(values) / 2
    for value in high:
        assert sum(abs(value - other) <= GAUGE.repeat_um for other in values) == 1
