"""The clear-coat budget."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from defectmap.trade.budget import UNLIMITED_SETS, Budget, budget_for, plan_steps, spent_on
from defectmap.trade.facts import PanelHistory
from defectmap.trade.surface import Surface
from defectmap.trade.table_forms import FilmThickness, Range
from defectmap.trade.tables import load_tables
from defectmap.trade.thickness import life_readings, panel_thickness
from defectmap.words.trade_words import told, told_all
from tests.trade import states
from tests.trade.rules import history, panel, readings, step

TABLES = load_tables()
FILM, GAUGE = TABLES.film, TABLES.gauge
FINISH, HEAVY = TABLES.ladder[0], TABLES.rung("heavy")


def budgeted(found: PanelHistory, film: FilmThickness = FILM, surface: Surface | None = None) -> Budget:
    thickness = panel_thickness(found.panel.name, life_readings(found), film, GAUGE)
    return budget_for(found, thickness, film, GAUGE, surface=surface)


def read(*values: float) -> Budget:
    return budgeted(history(readings=readings(*values)))


def test_the_worked_example() -> None:
    """Clear coat 35 µm, keep 20, spent 6: 9 left, so 4 sets of at most 2 µm, or 1 of 5 (arithmetic)."""
    film = replace(FILM, lifetime_um=100)
    done = history(step("correct", removal=(3, 6)), readings=readings(120, 121, 122))
    budget = budgeted(done, film)
    assert budget.left_um == pytest.approx(9)
    assert (FINISH.removal_um.high, HEAVY.removal_um.high) == (2, 5)
    assert (budget.sets(FINISH), budget.sets(HEAVY)) == (4, 1)


@pytest.mark.parametrize(
    ("clear_coat_um", "left_um"),
    [
        # half of 40 µm may go, but no more than 12 over its life: the smaller counts (common practice, no
        # source)
        (43.0, 12.0),  # taken as 38.7 to 47.3: good to 3 µm + 3 %
        (28.0, 4.16),  # taken as 24.16, of which 20 stay
        (22.0, 0.0),  # taken as 18.3: nothing
    ],
)
def test_a_measured_clear_coat_takes_the_place_of_the_assumption(
    clear_coat_um: float, left_um: float
) -> None:
    entered = history(panel=panel(clear_coat_um=clear_coat_um))
    budget = budgeted(entered)
    assert budget.left_um == pytest.approx(left_um)
    assert "entered" in told(budget.assumption)


def test_total_film_is_not_taken_for_clear_coat() -> None:
    thick, usual = read(160, 161, 162), read(110, 111, 112)
    assert thick.left_um == usual.left_um == 12.0
    assert "not the clear coat" in told(thick.assumption)
    assert "common practice" in told(thick.assumption)


# Floor 80 µm, gauge good to 3 µm + 3 %: 80 + 5.46 + x (arithmetic; figures common practice, no source).
@pytest.mark.parametrize(
    ("um", "left_um"),
    [(70, 0.0), (79.9, 0.0), (80.0, 0.0), (85.0, 0.0), (88.0, 2.36), (90.0, 4.3), (110.0, 12.0)],
)
def test_a_thin_film_allows_less_without_a_step_at_a_limit(um: float, left_um: float) -> None:
    assert read(um, um, um).left_um == pytest.approx(left_um)


@given(st.floats(60, 140), st.floats(0.01, 1.0))
def test_what_is_allowed_has_no_cliff(um: float, more: float) -> None:
    thin, thick = (read(value, value, value).left_um for value in (um, um + more))
    assert thin <= thick + 1e-9
    assert thick - thin <= more + 1e-9  # a tenth of a µm more never allows a µm more


def test_plastic_is_planned_on_an_assumption_that_is_said_and_gets_no_figure_for_the_report() -> None:
    budget = budgeted(history(panel=panel(material="plastic")), surface=Surface(lifetime_um=6))
    assert budget.known
    assert not budget.read
    assert budget.left_um == 6
    assert "reads nothing" in told(budget.remarks[0])


@pytest.mark.parametrize(
    ("material", "entered", "said"),
    [("plastic", None, True), ("plastic", 40.0, False), ("steel", None, False), ("steel", 40.0, False)],
)
def test_that_no_gauge_reads_it_is_said_of_what_was_not_read_only(
    material: str, entered: float | None, said: bool
) -> None:
    budget = budgeted(history(panel=panel(material=material, clear_coat_um=entered)))
    assert ("no gauge reads it" in {remark.code for remark in budget.remarks}) is said


def test_what_earlier_jobs_took_counts_for_the_life_of_the_paint() -> None:
    before = (step("correct", removal=(4, 8)),)
    now = history(step("correct", removal=(1, 2)), readings=readings(130, 131, 132), earlier_steps=before)
    budget = budgeted(now)
    assert (budget.spent_um, budget.spent_before_um) == (Range(low=5, high=10), Range(low=4, high=8))
    assert budget.left_um == pytest.approx(2)  # of the 12 µm of a lifetime
    assert any("Earlier jobs took 4 to 8 µm" in said for said in told_all(budget.remarks))


def test_a_new_paint_starts_anew() -> None:
    before = (step("correct", removal=(4, 8)),)  # in 2026
    now = history(
        panel=panel(painted_on="2026-06-01"),
        readings=readings(130, 131, 132, at="2026-09-01"),
        earlier_steps=before,
    )
    assert budgeted(now).spent_um == Range(low=0, high=0)


def test_an_unexplained_low_reading_allows_nothing() -> None:
    assert read(118, 121, 119, 95).left_um == 0  # by its value alone it would be 9.15
    assert read(118, 121, 119, 95).unexplained


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
    budget = read(110, 111, 112)
    plan = plan_steps(budget, [(HEAVY, 1), (HEAVY, 1), (FINISH, 1), (FINISH, 1)])
    assert [planned.left_um.low for planned in plan.steps] == [7, 2, 0]
    assert plan.stopped
    assert plan.reason is not None
    assert "0.0 µm is left" in told(plan.reason)
    said = " ".join(told_all(plan.alternatives))
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
    film_um: float, clear_um: float | None, spent: list[tuple[float, float]], wanted: list[tuple[object, int]]
) -> None:
    steps = [step("correct", removal=(min(pair), max(pair))) for pair in spent]
    h = history(*steps, panel=panel(clear_coat_um=clear_um), readings=readings(film_um, film_um, film_um))
    budget = budgeted(h)
    plan = plan_steps(budget, wanted)  # type: ignore[arg-type]
    taken = sum(planned.removal_um.high for planned in plan.steps)
    already = sum(max(pair) for pair in spent)
    if plan.steps:
        # every set at its high end, from the low end of the clear coat: what must stay is still there
        assert budget.clear_um.low - already - taken >= budget.keep_um - 1e-6
        assert budget.keep_um >= max(FILM.keep_um, FILM.keep_share * budget.clear_um.low) - 1e-9
        assert already + taken <= FILM.lifetime_um + 1e-6
        assert film_um >= FILM.thin_um
    assert plan.stopped is (len(plan.steps) < len(wanted))


@given(left_um=st.floats(0, 60), rung=RUNGS)
def test_whole_sets_are_counted_down(left_um: float, rung: object) -> None:
    budget = states.budget(left_um)
    sets = budget.sets(rung)  # type: ignore[arg-type]
    high = rung.removal_um.high  # type: ignore[attr-defined]
    assert sets >= 0
    assert sets * high <= left_um + 1e-6
    assert (sets + 1) * high > left_um - 1e-6
    assert budget.allows((rung, sets))  # type: ignore[arg-type]


def test_a_step_that_takes_nothing_off_fits_however_often() -> None:
    gentle = replace(FINISH, removal_um=Range(low=0.0, high=0.0))
    assert read(118, 121, 119).sets(gentle) == UNLIMITED_SETS
    assert read(118, 121, 119).allows((gentle, 1000))
