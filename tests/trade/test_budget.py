"""Film thickness and the clear-coat budget."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from defectmap.trade.budget import Budget, budget_for, plan_steps, spent_on
from defectmap.trade.tables import Range, load_tables
from defectmap.trade.thickness import odd_readings, panel_thickness, place_thickness, vehicle_thickness
from tests.trade.rules import history, panel, readings, step

TABLES = load_tables()
FILM = TABLES.film
FINISH, HEAVY = TABLES.ladder[0], TABLES.rung("heavy")


# A spot measurement is the mean of at least three readings within a circle of about 4 cm; an unusually high
# or low reading that is not repeated is left out (SSPC-PA 2, as quoted in a public excerpt).
@pytest.mark.parametrize(
    ("values", "mean", "odd"),
    [
        ([110, 112, 111], 111.0, ()),
        ([110, 112], None, ()),
        ([110], None, ()),
        ([110, 112, 150], None, (150,)),  # two are left: not a measured place
        ([110, 112, 111, 150], 111.0, (150,)),
        ([110, 112, 111, 70], 111.0, (70,)),
        ([110, 112, 111, 150, 151], 126.8, ()),  # it repeats, so it is the paint and not the reading
        ([110, 110, 110, 115], 111.25, ()),  # within what a gauge is uncertain by
    ],
)
def test_a_place_is_the_mean_of_three_without_the_odd_one(
    values: list[float], mean: float | None, odd: tuple[float, ...]
) -> None:
    place = place_thickness("middle", values, gauge_um=FILM.gauge_um)
    assert place.mean_um == (None if mean is None else pytest.approx(mean))
    assert place.odd_um == odd
    assert place.readings_um == tuple(values)  # what is left out is still shown


def test_the_budget_takes_the_thinnest_place() -> None:
    both = readings(120, 121, 122) + readings(104, 105, 106, place="edge")
    film = panel_thickness("bonnet", both, FILM)
    assert (film.mean_um, film.minimum_um, film.spread_um) == (113.0, 105.0, 16.0)


def test_readings_that_are_not_three_do_not_measure_a_panel() -> None:
    film = panel_thickness("bonnet", readings(120, 121), FILM)
    assert not film.measured
    budget = budget_for(history(readings=readings(120, 121)), film, FILM)
    assert (budget.known, budget.left_um) == (False, 0.0)


@given(st.lists(st.floats(60, 300), min_size=1, max_size=12), st.floats(0.5, 5))
def test_odd_readings_are_single_and_the_fewer(values: list[float], gauge_um: float) -> None:
    odd = odd_readings(values, gauge_um=gauge_um)
    assert len(odd) <= len(values) / 2
    for value in odd:
        assert sum(abs(value - other) <= gauge_um for other in values) == 1


def test_a_repaint_and_a_filler_are_remarked_on() -> None:
    films = [
        history(panel=panel(name=name), readings=readings(um, um + 1, um + 2))
        for name, um in [
            ("bonnet", 110),
            ("roof", 115),
            ("left door", 118),
            ("right door", 240),
            ("wing", 420),
        ]
    ]
    said = {film.panel: " ".join(film.remarks) for film in vehicle_thickness(films, FILM)}
    assert "repainted" in said["right door"]
    assert "filler" in said["wing"]
    assert said["bonnet"] == said["roof"] == said["left door"] == ""


@pytest.mark.parametrize(
    ("um", "words"), [(75, "too thin for any machine"), (90, "corrected before, or thin")]
)
def test_a_thin_film_is_remarked_on(um: float, words: str) -> None:
    assert words in panel_thickness("bonnet", readings(um, um, um), FILM).remarks[0]


def test_the_worked_example() -> None:
    """Clear coat 35 µm, keep 20, spent 6: 9 left, so 4 passes of at most 2 µm, or 1 of 5 (arithmetic)."""
    film = replace(FILM, lifetime_um=100)
    done = history(step("correct", removal=(3, 6)), readings=readings(120, 121, 122))
    budget = budget_for(done, panel_thickness("bonnet", done.readings, film), film)
    assert budget.left_um == pytest.approx(9)
    assert (FINISH.removal_um.high, HEAVY.removal_um.high) == (2, 5)
    assert (budget.passes(FINISH), budget.passes(HEAVY)) == (4, 1)


@pytest.mark.parametrize(
    ("clear_coat_um", "left_um"),
    [
        # half of 40 µm may go, but no more than 12 over its life: the smaller counts (common practice, no
        # source)
        (43.0, 12.0),  # taken as 40 to 46
        (28.0, 5.0),  # taken as 25, of which 20 stay
        (22.0, 0.0),  # taken as 19: nothing
    ],
)
def test_a_measured_clear_coat_takes_the_place_of_the_assumption(
    clear_coat_um: float, left_um: float
) -> None:
    entered = history(panel=panel(clear_coat_um=clear_coat_um))
    budget = budget_for(entered, panel_thickness("bonnet", (), FILM), FILM)
    assert budget.left_um == pytest.approx(left_um)
    assert "entered" in budget.assumption


def test_total_film_is_not_taken_for_clear_coat() -> None:
    thick = history(readings=readings(160, 161, 162))
    usual = history(readings=readings(110, 111, 112))
    budgets = [budget_for(h, panel_thickness("bonnet", h.readings, FILM), FILM) for h in (thick, usual)]
    assert budgets[0].left_um == budgets[1].left_um == 12.0
    assert "not the clear coat" in budgets[0].assumption
    assert "common practice" in budgets[0].assumption


def test_a_thin_film_has_less_and_a_very_thin_one_nothing() -> None:
    def left(um: float) -> float:
        h = history(readings=readings(um, um, um))
        return budget_for(h, panel_thickness("bonnet", h.readings, FILM), FILM).left_um

    assert left(100) == 12
    assert 0 < left(90) < 12
    assert left(79) == 0


def test_plastic_is_planned_on_an_assumption_that_is_said() -> None:
    bumper = history(panel=panel(material="plastic"))
    budget = budget_for(bumper, panel_thickness("bumper", (), FILM), FILM)
    assert budget.known
    assert "reads nothing" in budget.remarks[0]


def test_test_spots_do_not_add_up_over_the_panel() -> None:
    done = history(
        step("correct", spot="1", removal=(1, 2)),
        step("correct", spot="1", removal=(1, 3)),
        step("correct", spot="2", removal=(2, 4)),
        step("correct", removal=(1, 2)),
        step("wash"),
    )
    assert spent_on(done) == Range(low=3, high=7)


def test_the_plan_stops_where_the_budget_ends_and_offers_alternatives() -> None:
    h = history(readings=readings(110, 111, 112))
    budget = budget_for(h, panel_thickness("bonnet", h.readings, FILM), FILM)
    plan = plan_steps(budget, [(HEAVY, 1), (HEAVY, 1), (FINISH, 1), (FINISH, 1)])
    assert [planned.left_um.low for planned in plan.steps] == [7, 2, 0]
    assert plan.stopped
    assert "0 µm is left" in plan.reason
    said = " ".join(plan.alternatives)
    assert "Leave" in said
    assert "call it masking" in said
    assert "licensed refinisher" in said


RUNGS = st.sampled_from(TABLES.ladder)


@given(
    film_um=st.floats(40, 400),
    clear_um=st.none() | st.floats(1, 120),
    spent=st.lists(st.tuples(st.floats(0, 6), st.floats(0, 6)), max_size=4),
    wanted=st.lists(st.tuples(RUNGS, st.integers(1, 6)), max_size=8),
)
def test_no_plan_goes_below_the_floor(
    film_um: float,
    clear_um: float | None,
    spent: list[tuple[float, float]],
    wanted: list[tuple[object, int]],
) -> None:
    steps = [step("correct", removal=(min(pair), max(pair))) for pair in spent]
    h = history(*steps, panel=panel(clear_coat_um=clear_um), readings=readings(film_um, film_um, film_um))
    budget = budget_for(h, panel_thickness("bonnet", h.readings, FILM), FILM)
    plan = plan_steps(budget, wanted)  # type: ignore[arg-type]
    taken = sum(planned.removal_um.high for planned in plan.steps)
    already = sum(max(pair) for pair in spent)
    if plan.steps:
        # every pass at its high end, from the low end of the clear coat: what must stay is still there
        assert budget.clear_um.low - already - taken >= budget.keep_um - 1e-6
        assert budget.keep_um >= max(FILM.keep_um, FILM.keep_share * budget.clear_um.low) - 1e-9
        assert already + taken <= FILM.lifetime_um + 1e-6
        assert film_um >= FILM.thin_um
    assert plan.stopped is (len(plan.steps) < len(wanted))


@given(left_um=st.floats(0, 60), rung=RUNGS)
def test_whole_passes_are_counted_down(left_um: float, rung: object) -> None:
    budget = Budget(
        panel="bonnet",
        known=True,
        clear_um=Range(low=35, high=50),
        keep_um=20,
        lifetime_um=12,
        spent_um=Range(low=0, high=0),
        left_um=left_um,
        assumption="",
        remarks=(),
    )
    passes = budget.passes(rung)  # type: ignore[arg-type]
    high = rung.removal_um.high  # type: ignore[attr-defined]
    assert passes >= 0
    assert passes * high <= left_um + 1e-6
    assert (passes + 1) * high > left_um - 1e-6
    assert budget.allows((rung, passes))  # type: ignore[arg-type]
