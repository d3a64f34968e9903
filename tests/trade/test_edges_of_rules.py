"""Where a rule of the trade turns from one answer to the other: exactly there, and just beside it.

The limits are the project's own and those of `tables.toml`; the arithmetic is done by hand in the comments.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Literal

import pytest

from defectmap.trade.advice import Rules
from defectmap.trade.budget import budget_for, plan_steps
from defectmap.trade.condition import Trial
from defectmap.trade.judging import Estimate, estimate, judge
from defectmap.trade.next_step import next_step
from defectmap.trade.plan import advised_corrections
from defectmap.trade.removal import PlaceRemoval, removal_of, removed
from defectmap.trade.surface import Surface
from defectmap.trade.table_forms import Gauge, Range
from defectmap.trade.tables import load_tables
from defectmap.trade.thickness import high_readings, life_readings, panel_thickness, vehicle_thickness
from defectmap.trade.worse import haze_rose, worse_in
from defectmap.words.remark import Remark
from tests.trade.rules import history, panel, readings, step
from tests.trade.states import EFFECT, LADDER, LIMITS, about, advised, budget, condition, state, tried

TABLES = load_tables()
FILM, GAUGE = TABLES.film, TABLES.gauge


@pytest.mark.parametrize(
    ("low", "high", "verdict"),
    [
        (1.0, 2.0, "reached"),  # the high end at the limit still keeps it
        (1.0, 2.0625, "undecided"),
        (2.0, 3.0, "undecided"),  # the low end at the limit is not above it
        (2.0625, 3.0, "not reached"),
    ],
)
def test_a_limit_is_kept_up_to_its_very_value(low: float, high: float, verdict: str) -> None:
    assert judge(Estimate(value=0.5 * (low + high), low=low, high=high, photographs=3), 2.0) == verdict


def test_one_photograph_has_the_repeatability_of_the_method_and_several_never_less() -> None:
    one = estimate([10.0], repeatability=0.05)  # 1.96 times 5 % of 10
    assert (one.high - one.value, one.photographs) == pytest.approx((0.98, 1), abs=0.001)
    alike = estimate([10.0, 10.0, 10.0, 10.0], repeatability=0.05)  # no scatter: 0.98 over the root of 4
    assert alike.high - alike.value == pytest.approx(0.49, abs=0.001)
    apart = estimate([9.0, 11.0], repeatability=0.0001)  # Student's t of one degree: 12.706 (ISO 3534 tables)
    assert apart.high - apart.value == pytest.approx(12.706, abs=0.01)
    assert apart.low == 0.0


@pytest.mark.parametrize(
    ("before", "after", "worse"),
    [
        (about(2.0, 0.0625), about(2.0 + 0.3125, 0.0625), ("density",)),  # apart, and by what matters
        (about(2.0, 0.0625), about(2.0 + 0.125, 0.03125), ()),  # apart, yet less than 0.3 matters
        (about(10.0, 5.0), about(11.0, 5.0), ("density",)),  # overlapping: a tenth more is what matters
        (about(10.0, 5.0), about(10.9375, 5.0), ()),
        (about(10.0, 0.25), about(10.5, 0.25), ()),  # the ends meet: not beyond doubt, and under a tenth
        (about(10.0, 0.25), about(10.5625, 0.25), ("density",)),
    ],
)
def test_a_density_is_worse_from_what_matters_on(
    before: Estimate, after: Estimate, worse: tuple[str, ...]
) -> None:
    than, now = (replace(condition(1.0), density=one) for one in (before, after))
    assert worse_in(now, than, EFFECT) == worse
    assert worse_in(now, replace(than, calibrated=False), EFFECT) == ()


def test_the_least_rise_that_matters_counts() -> None:
    effect = replace(EFFECT, density_mm_per_cm2=0.25, density_percent=12.5, haze=0.125, haze_percent=12.5)
    two, more = (replace(condition(1.0), density=about(value)) for value in (2.0, 2.25))
    assert worse_in(more, two, effect) == ("density",)
    assert worse_in(more, two, replace(effect, density_mm_per_cm2=0.2501)) == ()
    assert haze_rose(about(0.625), about(0.5), effect)
    assert not haze_rose(about(0.624), about(0.5), effect)
    assert haze_rose(about(4.5), about(4.0), effect)  # an eighth of 4
    assert not haze_rose(about(4.49), about(4.0), effect)


def test_a_haze_without_interval_counts_from_three_times_what_matters() -> None:
    effect = replace(EFFECT, haze=0.125, haze_percent=1.0)
    unsure = Estimate(value=0.5, low=0.0, high=math.inf, photographs=1)
    assert haze_rose(replace(unsure, value=0.875), unsure, effect)
    assert not haze_rose(replace(unsure, value=0.874), unsure, effect)
    assert not haze_rose(about(0.75, 0.125), about(0.5, 0.125), effect)  # the ends meet


@pytest.mark.parametrize(
    ("values", "high"),
    [
        # median 120, median distance 10: beyond 3 x 1.4826 x 10 = 44.5 (Rousseeuw and Croux 1993)
        ([100, 110, 120, 130, 164], ()),
        ([100, 110, 120, 130, 165], (165,)),
        ([110, 110, 110, 122], ()),  # no scatter: beyond three times the 4 within which a gauge repeats
        ([110, 110, 110, 122.5], (122.5,)),
        ([110, 110, 110, 110, 150, 154], ()),  # 4 apart: they repeat, so it is the paint
        ([110, 110, 110, 110, 150, 154.5], (150, 154.5)),
        ([110, 150], ()),  # two readings cannot say which of them is odd
    ],
)
def test_a_high_reading_is_odd_beyond_three_deviations(values: list[float], high: tuple[float, ...]) -> None:
    assert high_readings(values, Gauge(um=3, percent=3, repeat_um=4)) == high


def test_what_an_edge_explains_is_not_what_other_places_are_held_against() -> None:
    around = (
        *readings(120, 121, 122, place="left"),
        *readings(60, 61, 62, 63, place="rim", explained="edge"),
    )
    alone = readings(95, place="right")
    found = panel_thickness("bonnet", (*around, *alone), FILM, GAUGE)
    assert [place.place for place in found.unexplained] == ["right"]  # 26 µm under its neighbours
    left, rim, right = found.places
    assert (left.unexplained_um, rim.lowest_um, right.unexplained_um) == (None, None, 95)
    assert found.minimum_um == 95


@pytest.mark.parametrize(
    ("values", "code"),
    [
        ((80, 80, 80), "thinner than usual"),  # 80 is still no reason to stop
        ((79, 80, 80), "too thin"),
        ((99, 100, 100), "thinner than usual"),
        ((100, 100, 100), None),
        ((180, 180, 180), None),
        ((181, 181, 181), "probably repainted"),
        ((300, 300, 300), "probably repainted"),
        ((301, 301, 301), "probably filled"),
    ],
)
def test_a_film_is_usual_up_to_both_ends_of_what_is_usual(
    values: tuple[float, ...], code: str | None
) -> None:
    found = panel_thickness("bonnet", readings(*values), FILM, GAUGE)
    assert [remark.code for remark in found.remarks] == ([] if code is None else [code])


@pytest.mark.parametrize(("thick", "told"), [(140, False), (141, True)])
def test_a_panel_is_thicker_than_the_rest_beyond_the_ratio_and_only_among_three(
    thick: int, told: bool
) -> None:
    usual = [history(panel=panel(name=name), readings=readings(100, 100, 100)) for name in ("a", "b")]
    odd = history(panel=panel(name="c"), readings=readings(thick, thick, thick))
    codes = {remark.code for remark in vehicle_thickness([*usual, odd], FILM, GAUGE)[-1].remarks}
    assert ("thicker than the rest" in codes) is told
    two = vehicle_thickness([usual[0], odd], FILM, GAUGE)
    assert all(remark.code != "thicker than the rest" for one in two for remark in one.remarks)


def test_the_day_of_a_new_paint_belongs_to_it() -> None:
    old, same = (
        replace(readings(value)[0], at=f"{day}T10:00:00.000000+00:00")
        for value, day in ((120, "2026-03-01"), (130, "2026-03-02"))
    )
    found = history(panel=panel(painted_on="2026-03-02"), readings=(old, same))
    assert [one.value_um for one in life_readings(found)] == [130]


def test_the_budget_by_hand() -> None:
    """Film 112 µm at the lowest: 112 - 80 - (3 + 3 %) - 5 spent = 20.64; the clear coat 35 - 20 - 5 = 10."""
    film = replace(FILM, lifetime_um=100)
    done = history(step("correct", removal=(2, 5)), readings=readings(112, 113, 114))
    thickness = panel_thickness("bonnet", done.readings, film, GAUGE)
    assert budget_for(done, thickness, film, GAUGE).left_um == pytest.approx(35 - 20 - 5)
    thin = replace(film, keep_um=0, keep_share=0.01)  # then the film itself decides
    found = budget_for(done, thickness, thin, GAUGE)
    assert found.left_um == pytest.approx(112 - 80 - 6.36 - 5)
    assert (found.uncertainty_um, found.lifetime_um) == pytest.approx((6.36, 100))
    share = budget_for(done, thickness, replace(thin, keep_share=0.9), GAUGE)
    assert (share.keep_um, share.left_um) == pytest.approx((31.5, 0.0))  # 35 - 31.5 - 5 is below nothing


def test_a_film_at_the_thin_end_less_the_gauges_doubt_is_not_yet_thin() -> None:
    exact = replace(FILM, whole_um=Range(low=94.0, high=180.0))
    at, under = (
        budget_for(
            history(readings=readings(um, um, um)),
            panel_thickness("bonnet", readings(um, um, um), exact, Gauge(um=6, percent=0, repeat_um=4)),
            exact,
            Gauge(um=6, percent=0, repeat_um=4),
        )
        for um in (100.0, 99.0)
    )
    assert (at.clear_um.low, at.assumption.code) == (35, "clear coat assumed")
    assert under.clear_um.low == pytest.approx(35 * 93 / 94)
    assert under.clear_um.high == pytest.approx(50 * 93 / 94)


def test_a_step_fits_to_the_last_of_the_budget() -> None:
    finish = TABLES.ladder[0]  # at most 2 µm a set
    assert (budget(6.0).sets(finish), budget(5.99).sets(finish)) == (3, 2)
    assert budget(6.0).allows((finish, 3))
    assert not budget(5.99).allows((finish, 3))
    assert budget(6.0).allows((finish, 1), (finish, 2))
    whole, short = plan_steps(budget(6.0), [(finish, 3)]), plan_steps(budget(5.99), [(finish, 3)])
    assert (whole.stopped, short.stopped) == (False, True)
    (planned,) = whole.steps
    low = finish.removal_um.low
    assert planned.removal_um == Range(low=3 * low, high=6.0)
    assert planned.left_um == Range(low=0.0, high=6.0 - 3 * low)


def test_what_came_off_is_told_apart_beyond_the_gauges_doubt() -> None:
    place = PlaceRemoval(place="middle", before_um=120, after_um=112, removed_um=8, uncertainty_um=8)
    assert not place.told_apart
    assert replace(place, uncertainty_um=7.9).told_apart
    assert replace(place, removed_um=-8, uncertainty_um=7.9).told_apart  # thicker by more than doubt
    assert removed(place, Range(low=1, high=2)).code == "removed, not told apart"


def test_the_doubt_of_a_difference_is_that_of_both_means() -> None:
    """GUM 5.1.2: the root of 6.6 squared and 6.3 squared (3 + 3 % of 120 and of 110)."""
    first = readings(120, 120, 120, stage="decontaminated")
    last = readings(110, 110, 110, stage="wiped")
    (found,) = removal_of(history(readings=(*first, *last)), GAUGE).places
    assert found.removed_um == 10
    assert found.uncertainty_um == pytest.approx(math.hypot(6.6, 6.3))
    assert removal_of(history(readings=(*first, *last[:2])), GAUGE).places == ()


@pytest.mark.parametrize(
    ("after", "action"),
    [
        (condition(1.0), "stop: good enough"),
        (condition(3.0, 1.5), "stop: protected"),  # more photographs would be asked for: of what lies under
        (condition(15.0), "stop: protected"),
    ],
)
def test_protection_stops_all_but_a_panel_that_is_good(after: object, action: str) -> None:
    found = advised(state(trials=tried(), done=("finish",), after=after, protected=True), LIMITS)
    assert found.action == action
    free = advised(state(trials=tried(), done=("finish",), after=after), LIMITS)
    assert free.action != "stop: protected"


@pytest.mark.parametrize(
    ("of", "photographs", "high", "code", "taken"),
    [
        ("photograph", 1, math.inf, "found density alone", None),
        ("film", 1, math.inf, "found density alone, film", None),
        ("photograph", 1, 3.0, "found density", "one photograph"),
        ("film", 1, 3.0, "found density", "one film"),
        ("photograph", 2, 3.0, "found density", "photographs"),
        ("film", 2, 3.0, "found density", "films"),
    ],
)
def test_a_figure_says_what_it_rests_on(
    of: Literal["photograph", "film"], photographs: int, high: float, code: str, taken: str | None
) -> None:
    found = Estimate(value=2.0, low=1.0, high=high, photographs=photographs, of=of).found("density")
    assert found.code == code
    rests = found.values.get("photographs")
    assert (rests.code if isinstance(rests, Remark) else None) == taken


def test_a_clear_coat_thinner_than_the_gauges_doubt_may_be_none_at_all() -> None:
    entered = history(panel=panel(clear_coat_um=2.0))  # good to 3 µm + 3 %: from nothing to 5.06 µm
    found = budget_for(entered, panel_thickness("bonnet", (), FILM, GAUGE), FILM, GAUGE)
    assert (found.clear_um.low, found.left_um) == (0.0, 0.0)
    assert found.clear_um.high == pytest.approx(5.06)


BUMPER = Surface(strongest="medium", rotary=False)


def test_a_panel_gets_the_steps_that_its_surface_allows_and_no_other() -> None:
    allowed = [rung.key for rung in BUMPER.ladder(LADDER)]
    assert 0 < len(allowed) < len(LADDER)
    trials: tuple[Trial, ...] = ()
    seen = []
    for _ in LADDER:
        found = advised(state(surface=BUMPER, trials=trials), LIMITS)
        if found.rung is None:
            break
        seen.append(found.rung.key)
        trials += tried((found.rung.key, 12.0))
    assert seen == allowed
    assert found.action == "stop: no stronger step"


def test_where_none_of_the_shops_steps_may_be_used_none_is_named() -> None:
    rotary = tuple(replace(rung, machine="rotary") for rung in LADDER)
    rules = Rules(limits=LIMITS, ladder=rotary, effect=EFFECT)
    found = next_step(state(surface=BUMPER), rules)
    assert (found.action, found.rung) == ("stop: no stronger step", None)
    assert found.alternatives
    good = next_step(state(surface=BUMPER, before=condition(1.0)), rules)
    assert good.action == "stop: good enough"


def test_finished_down_is_with_a_step_that_the_surface_allows() -> None:
    """A shop whose gentlest step is a rotary's: on plastic another one finishes, or none is offered."""
    rotary = replace(LADDER[0], key="rotary finish", machine="rotary")
    tried_before = {"surface": BUMPER, "done": ("medium",), "after": condition(2, trail=2)}
    found = next_step(state(**tried_before), Rules(limits=LIMITS, ladder=(rotary, *LADDER), effect=EFFECT))
    assert (found.action, found.rung) == ("finish down", LADDER[0])
    trials = (*tried(("finish", 9)), Trial(rung="medium", found=condition(20, trail=18)))
    found = next_step(
        state(surface=BUMPER, trials=trials), Rules(limits=LIMITS, ladder=(rotary, *LADDER), effect=EFFECT)
    )
    planned = advised_corrections([found])["bonnet"]
    assert [rung.key for rung, _ in planned] == ["medium", "finish"]
    assert BUMPER.ladder((rotary, *LADDER[1:])) == ()
    assert BUMPER.gentlest((rotary, *LADDER)) == LADDER[0]


def test_a_spot_without_a_mark_counts_and_what_is_no_figure_does_not() -> None:
    assert estimate([0.0, 2.0]).value == 1.0
    for wrong in ([], [-0.1], [math.nan], [1.0, math.inf]):
        with pytest.raises(ValueError, match="at least one figure, each 0 or above"):
            estimate(wrong)


@pytest.mark.parametrize(
    ("aside", "said"), [(True, "films and photographs apart"), (False, "nothing measured")]
)
def test_why_nothing_counts_yet_is_said(aside: bool, said: str) -> None:
    found = advised(state(before=None, films_aside=aside), LIMITS)
    assert (found.action, [remark.code for remark in found.why]) == ("inspect", [said])


@pytest.mark.parametrize(("haze", "action"), [(0.04, "try on a spot"), (0.09, "finish down")])
def test_a_heavy_step_is_finished_down_where_its_haze_rose_and_else_stepped_up_from(
    haze: float, action: str
) -> None:
    """Marks are above the limit, haze below it in both: only its rise asks for finishing first."""
    heavy = next(rung for rung in LADDER if rung.leaves_haze)
    lighter = tuple(rung.key for rung in LADDER[: LADDER.index(heavy)])
    found = advised(
        state(
            before=condition(15, haze=0.04),
            done=(*lighter, heavy.key),
            after=condition(9, haze=haze),
            trials=(),
        ),
        LIMITS,
    )
    assert found.action == action
