"""The next step: rules by table, and properties that hold whatever the panel."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from defectmap.trade.advice import CAUTIONS, PanelState
from defectmap.trade.condition import Condition, Trial
from defectmap.trade.judging import Estimate, estimate, judge
from defectmap.trade.targets import Limited, Limits
from defectmap.words.figure_words import AIMS
from defectmap.words.trade_words import told, told_all
from tests.trade.states import KEYS, LADDER, LIMITS, about, advised, budget, condition, state, tried

# Least aggressive first, one rung up at a time, finish down after a heavy cut (common practice, no source).
CASES = [
    pytest.param({"before": None}, "inspect", None, id="nothing measured"),
    pytest.param({"before": condition(2)}, "stop: good enough", None, id="good as it came"),
    pytest.param({"before": condition(3, 0.5)}, "photograph more spots", None, id="before undecided"),
    pytest.param({"before": condition(15, calibrated=False)}, "give the scale", None, id="no scale"),
    pytest.param({"budget": budget(0, known=False)}, "read film thickness", None, id="no readings"),
    pytest.param({}, "try on a spot", "finish", id="start gently"),
    pytest.param({"trials": tried(("finish", None))}, "wipe and photograph", None, id="test spot not wiped"),
    pytest.param({"trials": tried(("finish", 9))}, "try on a spot", "medium", id="one rung up"),
    pytest.param({"trials": tried(("heavy", 1))}, "try on a spot", "finish", id="not from the top"),
    pytest.param(
        {"trials": tried(("finish", 3.0), half=0.6)}, "photograph more spots", None, id="test spot undecided"
    ),
    pytest.param({"trials": tried(("finish", 2))}, "correct the panel", "finish", id="gentlest is enough"),
    pytest.param(
        {"trials": tried(("finish", 9), ("medium", 2))}, "correct the panel", "medium", id="second is"
    ),
    pytest.param({"done": ("finish",)}, "wipe and photograph", None, id="corrected, not wiped"),
    pytest.param({"done": ("finish",), "after": condition(2)}, "stop: good enough", None, id="done"),
    pytest.param(
        {"done": ("finish",), "after": condition(9)}, "try on a spot", "medium", id="panel not enough"
    ),
    pytest.param(
        {"done": ("heavy",), "after": condition(2)}, "finish down", "finish", id="after a heavy cut"
    ),
    pytest.param(
        {"done": ("heavy", "finish"), "after": condition(2)}, "stop: good enough", None, id="finished"
    ),
    pytest.param(
        {"done": ("medium",), "after": condition(2, haze=0.3)}, "finish down", "finish", id="haze left"
    ),
    pytest.param(
        {"done": ("medium",), "after": condition(2, trail=2)},
        "finish down",
        "finish",
        id="buffer trails left",
    ),
    pytest.param(
        {"before": condition(15, haze=0.02), "done": ("medium",), "after": condition(2, haze=0.05)},
        "finish down",
        "finish",
        id="haze rose and is still within its limit",
    ),
    pytest.param({"before": condition(2, haze=0.3)}, "try on a spot", "finish", id="haze as it came"),
    pytest.param(
        {
            "trials": tried(("finish", 9), ("medium", 9)),
            "done": ("medium",),
            "after": condition(20, trail=18),
        },
        "finish down",
        "finish",
        id="hardly anything but buffer trails is left",
    ),
    pytest.param(
        {"done": ("medium",), "after": condition(20, 0.5, trail=17)},
        "finish down",
        "finish",
        id="buffer trails, and the rest undecided",
    ),
    pytest.param(
        {"trials": tried(("finish", 9), ("medium", 9)), "done": ("medium",), "after": condition(20, trail=8)},
        "try on a spot",
        "medium firm",
        id="buffer trails, and the rest above too",  # 12 of other marks: more than 3 and 8 again of trails
    ),
    pytest.param(
        {"trials": tried(("finish", 9), ("medium", 9)), "done": ("medium",), "after": condition(15, trail=8)},
        "finish down",
        "finish",
        id="buffer trails, and the rest may be trails too",
    ),
    pytest.param(
        {"trials": tried(("finish", 9)), "done": ("medium", "finish"), "after": condition(14, trail=12)},
        "try on a spot",
        "medium firm",
        id="no second finishing pass clears what the first one left",
    ),
    pytest.param({"before": condition(20, trail=18)}, "try on a spot", "finish", id="trails as it came"),
    pytest.param(
        {"trials": tried(("finish", 9)), "done": ("medium",), "after": condition(9, trail=7, trail_half=9)},
        "finish down",
        "finish",
        id="marks above, and most of them likely trails",
    ),
    pytest.param(
        {"done": ("medium",), "after": condition(2, trail=1, trail_half=2)},
        "stop: good enough",
        None,
        id="marks within, trails in doubt",
    ),
    pytest.param(
        {"done": ("medium",), "after": condition(3, 0.5, trail=1, trail_half=2)},
        "photograph more spots",
        None,
        id="marks and trails in doubt",
    ),
    pytest.param(
        {"before": condition(20, trail=18), "trials": tried(("finish", None))},
        "wipe and photograph",
        None,
        id="trails as it came, test spot not wiped",
    ),
    pytest.param(
        {"before": condition(20, trail=18), "trials": tried(("finish", 2))},
        "finish down",
        "finish",
        id="trails as it came, the finishing pass clears them",
    ),
    pytest.param(
        {"trials": (*tried(("finish", 9)), Trial(rung="medium", found=condition(20, trail=18)))},
        "correct the panel",
        "medium",
        id="a step that is enough but for the trails it leaves",
    ),
    pytest.param(
        {
            "trials": (*tried(("finish", 9)), Trial(rung="medium", found=condition(20, trail=18))),
            "budget": budget(4),
        },
        "stop: clear coat",
        None,
        id="the finishing pass after it does not fit",  # 3 + 2 of 4 µm
    ),
    pytest.param(
        {"trials": (Trial(rung="finish", found=condition(14, trail=12)),)},
        "try on a spot",
        "medium",
        id="no finishing pass clears what the finishing step leaves",
    ),
    pytest.param({"budget": budget(1)}, "stop: clear coat", None, id="not even the gentlest fits"),
    pytest.param(
        {"trials": tried(("finish", 9), ("medium", 9), ("medium firm", 9)), "budget": budget(6)},
        "stop: clear coat",
        None,
        id="heavy with finishing down does not fit",  # 5 + 2 of 6 µm
    ),
    pytest.param(
        {"trials": tried(("finish", 9), ("medium", 9), ("medium firm", 9)), "budget": budget(7)},
        "try on a spot",
        "heavy",
        id="heavy with finishing down fits",
    ),
    pytest.param({"trials": tried(*((key, 9.0) for key in KEYS))}, "stop: no stronger step", None, id="top"),
]


@pytest.mark.parametrize(("given_state", "action", "rung"), CASES)
def test_the_next_step(given_state: dict[str, object], action: str, rung: str | None) -> None:
    advice = advised(state(**given_state), LIMITS)
    assert advice.action == action
    assert (advice.rung.key if advice.rung else None) == rung
    assert advice.why
    assert bool(advice.measured) is (action != "inspect")
    if advice.rung is not None:
        assert all(caution in advice.cautions for caution in CAUTIONS)
    if action in ("stop: clear coat", "stop: no stronger step"):
        assert len(advice.alternatives) == 3


def test_a_long_scratch_alone_keeps_the_panel_open() -> None:
    limits = Limits(density_mm_per_cm2=3.0, longest_scratch_mm=20)
    advice = advised(state(before=condition(1, longest_scratch=about(35, 5))), limits)
    assert (advice.action, advice.rung and advice.rung.key) == ("try on a spot", "finish")
    assert "35 mm against at most 20" in told(advice.why[0])


def test_the_longest_scratch_is_judged_by_its_interval_too() -> None:
    limits = Limits(density_mm_per_cm2=3.0, longest_scratch_mm=20)
    near = state(before=condition(1, longest_scratch=about(19, 4)))
    assert advised(near, limits).action == "photograph more spots"
    under = state(before=condition(1, longest_scratch=about(12, 4)))
    assert advised(under, limits).action == "stop: good enough"


AGREED, USUAL = AIMS["agreed"], AIMS["usual aim"]
AGREED_ALL: frozenset[Limited] = frozenset({"density", "haze", "longest scratch"})
WORDED = [  # states whose reasons name what the figures were held against
    pytest.param({"before": condition(15)}, id="above"),
    pytest.param({"before": condition(1)}, id="within"),
    pytest.param({"before": condition(3, half=0.5)}, id="across"),
    pytest.param({"trials": tried(("finish", 3.0), half=0.5)}, id="tried, across"),
    pytest.param({"before": condition(2, haze=0.3)}, id="haze"),
]


@pytest.mark.parametrize("given_state", WORDED)
@pytest.mark.parametrize(
    ("agreed", "said", "unsaid"), [(frozenset(), USUAL, AGREED), (AGREED_ALL, AGREED, USUAL)]
)
def test_nothing_is_called_agreed_that_was_not(
    given_state: dict[str, object], agreed: frozenset[Limited], said: str, unsaid: str
) -> None:
    limits = replace(LIMITS, agreed=agreed)
    why = " ".join(told_all(advised(state(**given_state), limits).why))
    assert said in why
    assert unsaid not in why


def test_buffer_trails_are_called_agreed_only_where_they_were() -> None:
    trails = state(done=("medium",), after=condition(2, trail=2))
    found = advised(trails, replace(LIMITS, agreed=AGREED_ALL))
    assert any(
        "above the shop's usual aim (nothing was agreed about buffer trails)" in told(w) for w in found.why
    )
    found = advised(trails, replace(LIMITS, agreed=AGREED_ALL | {"trail"}))
    assert any("Buffer trails are above what was agreed: 2 mm/cm²" in told(w) for w in found.why)


def test_trails_are_told_apart_in_words() -> None:
    found = advised(state(done=("medium",), after=condition(20, trail=18)), LIMITS)
    first, second = told_all(found.why)[:2]
    assert first.startswith("Apart from buffer trails, the marks are within the shop's usual aim")
    assert "2 mm/cm² (1.9 to 2.1, 3 photographs) against at most 3" in first
    assert "18 mm/cm²" in second
    assert "Finishing down clears them" in second


def test_a_plan_counts_the_finishing_pass_that_trails_ask_for() -> None:
    trials = (*tried(("finish", 9)), Trial(rung="medium", found=condition(20, trail=18)))
    assert advised(state(trials=trials), LIMITS).finish == LADDER[0]
    plain = tried(("finish", 9), ("medium", 2))
    assert advised(state(trials=plain), LIMITS).finish is None


def test_a_scratch_agreed_on_its_own_says_so() -> None:
    limits = Limits(density_mm_per_cm2=3.0, longest_scratch_mm=20, agreed=frozenset({"longest scratch"}))
    found = advised(state(before=condition(1, longest_scratch=about(35, 5))), limits)
    assert "what was agreed about scratches and the shop's usual aim for the rest" in told(found.why[0])


def test_one_photograph_is_not_given_an_interval_in_words() -> None:
    alone = Condition(density=Estimate(value=2.0, low=0.0, high=math.inf, photographs=1))
    found = advised(state(before=alone), LIMITS)
    assert found.action == "photograph more spots"
    why = " ".join(told_all(found.why))
    assert "One photograph alone cannot show" in why
    assert "range" not in why


def test_a_scratch_that_catches_a_nail_is_not_chased() -> None:
    advice = advised(state(catches_nail=True), LIMITS)
    assert any("fingernail" in told(caution) for caution in advice.cautions)


conditions = st.none() | st.builds(
    condition,
    st.floats(0, 30),
    st.floats(0, 10),
    haze=st.floats(0, 0.5),
    trail=st.floats(0, 3),
    longest_scratch=st.none() | st.builds(about, st.floats(0, 100), st.floats(0, 20)),
    calibrated=st.booleans(),
)
states = st.builds(
    state,
    before=conditions,
    trials=st.lists(st.builds(Trial, rung=st.sampled_from(KEYS), found=conditions), max_size=7).map(tuple),
    done=st.lists(st.sampled_from(KEYS), max_size=4).map(tuple),
    after=conditions,
    budget=st.builds(budget, st.floats(0, 20), known=st.booleans()),
    catches_nail=st.booleans(),
)
limits_of_any = st.builds(
    Limits,
    density_mm_per_cm2=st.floats(0.1, 20),
    haze=st.none() | st.floats(0.01, 0.4),
    trail_mm_per_cm2=st.none() | st.floats(0.1, 2),
    longest_scratch_mm=st.none() | st.floats(1, 100),
)


@given(states, limits_of_any)
def test_never_a_more_aggressive_step_while_a_gentler_one_is_untried(
    panel: PanelState, limits: Limits
) -> None:
    advice = advised(panel, limits)
    assert advice.why
    if advice.rung is None:
        return
    seen = {trial.rung for trial in panel.trials} | set(panel.done)
    gentler = KEYS[: KEYS.index(advice.rung.key)]
    assert set(gentler) <= seen
    assert panel.budget.known
    assert advice.rung.removal_um.high * advice.sets <= panel.budget.left_um + 1e-6


@given(
    effect=st.lists(st.floats(0.05, 1.0), min_size=len(LADDER), max_size=len(LADDER)),
    first=st.floats(0.5, 40),
    allowed=st.floats(0, 25),
    half=st.floats(0, 0.3),
    haze=st.floats(0, 0.3),
)
def test_following_the_advice_ends_and_never_spends_more_than_is_there(
    effect: list[float], first: float, allowed: float, half: float, haze: float
) -> None:
    """A detailer does as advised, each step leaves a share of the marks, every pass takes its most."""
    density, spent_whole, spent_spot = first, 0.0, 0.0
    trials: dict[str, Trial] = {}
    done: list[str] = []
    now_haze = haze
    for _ in range(40):
        left = allowed - spent_whole - spent_spot
        assert left >= -1e-6
        after = condition(density, half * density, haze=now_haze) if done else None
        panel = state(
            before=condition(first, half * first, haze=haze),
            trials=tuple(trials.values()),
            done=tuple(done),
            after=after,
            budget=budget(max(0.0, left)),
        )
        advice = advised(panel, LIMITS)
        if advice.rung is None:
            assert advice.action.startswith(("stop", "photograph more"))
            return
        index = KEYS.index(advice.rung.key)
        taken = advice.rung.removal_um.high * advice.sets
        if advice.action == "try on a spot":
            spent_spot += taken  # all on one spot: the dearest way to try
            trials[advice.rung.key] = Trial(
                rung=advice.rung.key, found=condition(density * effect[index], half * density * effect[index])
            )
        else:
            spent_whole += taken
            done.append(advice.rung.key)
            density *= effect[index]
            now_haze = 0.3 if advice.rung.leaves_haze else 0.02
    pytest.fail("the advice never ends")


def test_the_interval_of_a_published_mean() -> None:
    """GUM 4.4.3 (JCGM 100:2008): 20 temperatures, mean 100.145, standard deviation of the mean 0.333."""
    values = [96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07]
    values += [100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72]
    found = estimate(values)
    assert found.value == pytest.approx(100.145, abs=0.0005)
    # t for 19 degrees of freedom is 2.093 (same tables)
    assert (found.high - found.value) / 2.093 == pytest.approx(0.333, abs=0.0005)


def test_one_photograph_has_no_upper_end_unless_the_method_is_known() -> None:
    alone = estimate([2.0])
    assert (alone.low, alone.high) == (0.0, math.inf)
    assert judge(alone, 1e6) == "undecided"
    known = estimate([2.0], repeatability=0.02)
    assert (known.low, known.high) == pytest.approx((2 - 0.0784, 2 + 0.0784))
    # equal figures on two spots do not make the method better than it is
    assert estimate([2.0, 2.0], repeatability=0.02).high == pytest.approx(2 + 0.0784 / math.sqrt(2))


@pytest.mark.parametrize("values", [[], [-1.0], [math.nan], [math.inf]])
def test_impossible_figures_are_refused(values: list[float]) -> None:
    with pytest.raises(ValueError, match="at least one figure"):
        estimate(values)
