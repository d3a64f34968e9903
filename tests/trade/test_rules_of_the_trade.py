"""The rules of the trade as sentences, each with its source, each held against what is advised.

Almost all of them are `common practice, no source`: said so in many trade articles, measured in none that was
found. Where a rule is our own caution, or arithmetic, it says so.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from defectmap.comparison.masking import claim
from defectmap.errors import BadReading, JobError
from defectmap.record.thickness_entries import to_um
from defectmap.trade.advice import CAUTIONS, Advice, PanelState, Reachable, Rules, Settled
from defectmap.trade.alike import settle_alike
from defectmap.trade.budget import Budget, budget_for, spent_on
from defectmap.trade.care import care_days
from defectmap.trade.condition import Trial
from defectmap.trade.damage import NOT_BY_POLISHING
from defectmap.trade.facts import PanelHistory, PanelRecord
from defectmap.trade.memory import FinishedPanel, by_step, experiences, reachable
from defectmap.trade.on_paint import on_paint
from defectmap.trade.plan import decontamination_cautions, decontamination_grade
from defectmap.trade.removal import removal_of
from defectmap.trade.setcount import sets_of
from defectmap.trade.stages import NEVER_POLISHED, PROOF
from defectmap.trade.surface import Surface, kinds_alike, surface_of
from defectmap.trade.table_forms import Range
from defectmap.trade.tables import load_tables
from defectmap.trade.targets import Limits
from defectmap.trade.thickness import life_readings, panel_thickness
from defectmap.trade.worse import worse_in
from defectmap.words.trade_words import told, told_all
from tests.trade.rules import history, panel, readings, step
from tests.trade.states import EFFECT, KEYS, LADDER, LIMITS, about, advised, budget, condition, state, tried

TABLES = load_tables()
TODAY = date(2026, 3, 2)
COMMON = "common practice, no source"
OWN = "our own caution"
IMPOSSIBLE = Limits(density_mm_per_cm2=0.01, least_density_mm_per_cm2=TABLES.goal.least_density_mm_per_cm2)


@dataclass(frozen=True)
class Rule:
    """One rule, its source, and whether it holds."""

    says: str
    source: str
    holds: Callable[[], bool]


def left(found: PanelHistory, surface: Surface | None = None) -> Budget:
    thickness = panel_thickness("bonnet", life_readings(found), TABLES.film, TABLES.gauge)
    return budget_for(found, thickness, TABLES.film, TABLES.gauge, surface=surface)


def on(panel_: PanelRecord, paint: str = "clear coat") -> Surface:
    return surface_of(panel_, paint, TABLES, today=TODAY)


def offered(panel_: PanelRecord, paint: str = "clear coat") -> set[str]:
    return {rung.key for rung in on(panel_, paint).ladder(LADDER)}


def action(limits: Limits = LIMITS, **given_state: Any) -> tuple[str, str | None]:
    found = advised(state(**given_state), limits)
    return found.action, found.rung.key if found.rung else None


def said(found: Advice) -> str:
    return " ".join(told_all((*found.why, *found.cautions, *found.questions, *found.alternatives)))


def refused(call: Callable[[], object], error: type[Exception]) -> str:
    with pytest.raises(error) as caught:
        call()
    return str(caught.value)


def worse_spot(**more: Any) -> Advice:
    """A test spot that came out at 32 where there were 15 (+115 %)."""
    return advised(state(trials=(Trial(rung="finish", found=condition(32.25, **more)),)), LIMITS)


FINISHED = [
    FinishedPanel(
        job=f"J{n}",
        panel="bonnet",
        paint="clear coat",
        steps=("medium",),
        before=15.0,
        after=after,
        haze_after=0.03,
        minutes=40.0,
        removal_um=Range(low=1, high=3),
    )
    for n, after in enumerate((3.0, 1.5, 4.5))
]

THICKNESS = [
    Rule(
        "a low reading that nothing explains stops polishing, whatever the others say",
        OWN,
        lambda: left(history(readings=readings(118, 121, 119, 62))).left_um == 0,
    ),
    Rule(
        "two low readings among high ones are not averaged into a usable one",
        OWN,
        lambda: left(history(readings=readings(62, 63, 120, 121, 119))).left_um == 0,
    ),
    Rule(
        "the place is read again: two more readings that agree settle a low one",
        "SSPC-PA 2 as quoted in a public excerpt: a reading that does not repeat is discarded; two further: "
        + OWN,
        lambda: (
            left(history(readings=readings(118, 121, 119, 62) + readings(118, 119, again=True))).left_um > 0
        ),
    ),
    Rule(
        "an edge or a repair explains a low reading, and the machine stays off it",
        COMMON,
        lambda: (
            left(history(readings=readings(118, 121, 119) + readings(62, explained="edge"))).left_um == 12
        ),
    ),
    Rule(
        "the newest readings of a place rule",
        OWN,
        lambda: (
            panel_thickness(
                "bonnet",
                readings(84, 85, 86, stage="decontaminated") + readings(77, 78, 77, stage="wiped"),
                TABLES.film,
                TABLES.gauge,
            ).minimum_um
            == 77
        ),
    ),
    Rule(
        "what the gauge is uncertain by comes off before anything is allowed: 90 µm allows 90 - 80 - 5.7",
        "arithmetic; gauge ±(3 µm + 3 %): " + COMMON,
        lambda: left(history(readings=readings(90, 91, 92))).left_um == pytest.approx(4.3),
    ),
    Rule(
        "no cliff at the limit: 79.9 and 80 µm allow the same",
        OWN,
        lambda: (
            left(history(readings=readings(80, 80, 80))).left_um
            == left(history(readings=readings(79.9, 79.9, 79.9))).left_um
            == 0
        ),
    ),
    Rule(
        "4.7 µm is a slip of the unit: it is asked about, and the value is repeated",
        "4.7 mil is 119 µm (the inch is 25.4 mm by definition)",
        lambda: "is it 4.7 mil (119 um)" in refused(lambda: to_um(4.7, "um"), BadReading),
    ),
    Rule(
        "3031 µm is a slip of the unit or the point",
        "hand gauges end at about 2000 µm: " + COMMON,
        lambda: (
            "decimal point" in refused(lambda: to_um(3031, "um"), BadReading)
            and "is it 119.3 um" in refused(lambda: to_um(119.3, "mil"), BadReading)
        ),
    ),
    Rule(
        "one panel at 180 to 300 µm is probably repainted",
        COMMON,
        lambda: (
            [
                remark.code
                for remark in panel_thickness("b", readings(240, 241, 242), TABLES.film, TABLES.gauge).remarks
            ]
            == ["probably repainted"]
        ),
    ),
    Rule(
        "above 300 µm filler is likely",
        COMMON,
        lambda: (
            "probably filled"
            in {
                r.code
                for r in panel_thickness("b", readings(420, 421, 422), TABLES.film, TABLES.gauge).remarks
            }
        ),
    ),
    Rule(
        "12 µm is for the life of the paint, not for a job",
        COMMON,
        lambda: (
            left(
                history(readings=readings(120, 121, 122), earlier_steps=(step("correct", removal=(5, 10)),))
            ).left_um
            == pytest.approx(2)
        ),
    ),
    Rule(
        "a new paint starts anew",
        OWN,
        lambda: (
            spent_on(
                history(
                    panel=panel(painted_on="2026-12-01"), earlier_steps=(step("correct", removal=(5, 10)),)
                )
            ).high
            == 0
        ),
    ),
    Rule(
        "at least half of the clear coat and never less than 20 µm stay",
        COMMON,
        lambda: (
            left(history(panel=panel(clear_coat_um=28))).keep_um == 20
            and left(history(panel=panel(clear_coat_um=60))).keep_um > 20
        ),
    ),
    Rule(
        "a gauge for the whole film does not show the clear coat: a thicker film allows no more",
        "ASTM D7091 preview: the gauge reads the sum of all layers",
        lambda: left(history(readings=readings(170, 171, 172))).left_um == 12,
    ),
    Rule(
        "before minus after is told apart from nothing only beyond the gauge's uncertainty",
        "GUM (JCGM 100:2008, 5.1.2)",
        lambda: (
            not removal_of(
                history(
                    readings=readings(118, 118, 118, stage="decontaminated")
                    + readings(115, 115, 115, stage=PROOF)
                ),
                TABLES.gauge,
            )
            .places[0]
            .told_apart
        ),
    ),
    Rule(
        "nothing is said to have come off while a low reading is open",
        OWN,
        lambda: (
            removal_of(
                history(
                    readings=readings(118, 121, 119, 62, stage="decontaminated")
                    + readings(115, 116, 117, stage=PROOF)
                ),
                TABLES.gauge,
            ).places
            == ()
        ),
    ),
    Rule(
        "a panel without readings gets no polishing",
        COMMON,
        lambda: action(budget=budget(0, known=False)) == ("read film thickness", None),
    ),
]

NEXT = [
    Rule(
        "worse after polishing (+115 %) stops, says so first, and asks for the causes",
        COMMON,
        lambda: (
            (found := advised(state(done=("medium",), after=condition(32.25, haze=0.2)), LIMITS)).action
            == "stop: worse than before"
            and told(found.why[0]).startswith(
                "Worse than before: density of marks rose from 15 to 32.2 mm/cm² (+115 %)"
            )
            and len(found.questions) == 7
        ),
    ),
    Rule(
        "worse on a test spot stops just so, and no harder step is named",
        COMMON,
        lambda: worse_spot().action == "stop: worse than before" and worse_spot().rung is None,
    ),
    Rule(
        "more haze after a step that leaves none is worse",
        COMMON,
        lambda: (
            action(
                before=condition(15, haze=0.05), trials=(Trial(rung="finish", found=condition(9, haze=0.2)),)
            )
            == ("stop: worse than before", None)
        ),
    ),
    Rule(
        "after a heavy cut haze is expected: finish down, and no harder step before that",
        COMMON,
        lambda: (
            action(before=condition(15, haze=0.05), done=("heavy",), after=condition(9, haze=0.2))
            == ("finish down", "finish")
        ),
    ),
    Rule(
        "a spot that was worse and is tried again with a clean pad goes on",
        COMMON,
        lambda: action(trials=tried(("finish", 9))) == ("try on a spot", "medium"),
    ),
    Rule(
        "haze from 0.290 to 0.294 is no reason to finish down",
        OWN,
        lambda: (
            action(
                replace(LIMITS, haze=None),
                before=condition(15, haze=0.290),
                done=("medium",),
                after=condition(2, haze=0.294),
            )
            == ("stop: good enough", None)
        ),
    ),
    Rule(
        "a target of 0.01 mm/cm² is called impossible, with what the shop has reached",
        OWN,
        lambda: (
            (
                found := advised(
                    state(reachable=Reachable(density_mm_per_cm2=1.5, haze=0.03, panels=3)), IMPOSSIBLE
                )
            ).action
            == "stop: target out of reach"
            and "1.5 mm/cm² at best, over 3 panels" in said(found)
        ),
    ),
    Rule(
        "where the shop has no results it says so instead of a figure",
        OWN,
        lambda: "cannot say what is reachable" in said(advised(state(), IMPOSSIBLE)),
    ),
    Rule(
        "a scratch that catches the nail is left or referred, not chased",
        COMMON,
        lambda: (
            action(
                Limits(density_mm_per_cm2=3, longest_scratch_mm=20),
                before=condition(2, longest_scratch=about(60)),
                catches_nail=True,
            )
            == ("stop: good enough", None)
        ),
    ),
    Rule(
        "one test spot settles the step for panels of the same paint and condition",
        COMMON,
        lambda: (
            [
                one.settled.rung if one.settled else None
                for one in settle_alike(
                    [state(panel="bonnet", trials=tried(("finish", 9), ("medium", 2))), state(panel="roof")],
                    ["same", "same"],
                    _rules(),
                )
            ]
            == [None, "medium"]
        ),
    ),
    Rule(
        "another paint, or another condition, needs a test spot of its own",
        COMMON,
        lambda: (
            settle_alike(
                [state(trials=tried(("finish", 2))), state(), state(before=condition(40))],
                ["metal", "plastic", "metal"],
                _rules(),
            )[1:]
            == [state(), state(before=condition(40))]
        ),
    ),
    Rule(
        "a settled step is used on the like panel without another test spot",
        COMMON,
        lambda: (
            action(settled=Settled(rung="medium", on="roof", found=condition(2)))
            == ("correct the panel", "medium")
        ),
    ),
    Rule(
        "a panel that was tried or done itself goes by its own results, not by the like panel's",
        COMMON,
        lambda: (
            action(
                settled=Settled(rung="finish", on="roof", found=condition(2)),
                done=("finish",),
                after=condition(9),
            )
            == ("try on a spot", "medium")
        ),
    ),
    Rule(
        "a test spot is held against the same spot before, where that was photographed",
        OWN,
        lambda: (
            action(trials=(Trial(rung="finish", found=condition(20), before=condition(30)),))
            == ("try on a spot", "medium")
        ),
    ),
    Rule(
        "after protection nothing advises finishing down",
        COMMON,
        lambda: (
            action(done=("heavy",), after=condition(2, haze=0.3), protected=True) == ("stop: protected", None)
        ),
    ),
    Rule(
        "least aggressive step first, on a test spot", COMMON, lambda: action() == ("try on a spot", "finish")
    ),
    Rule(
        "finish down after a heavy cut",
        COMMON,
        lambda: action(done=("heavy",), after=condition(2)) == ("finish down", "finish"),
    ),
    Rule(
        "finishing that changed nothing is not done again for the same haze",
        OWN,
        lambda: (
            action(
                before=condition(15, haze=0.3),
                done=("medium", "finish"),
                previous=condition(2, haze=0.3),
                after=condition(2, haze=0.29),
            )
            == ("stop: good enough", None)
        ),
    ),
    Rule(
        "oils hide marks: nothing is judged before the solvent wipe",
        COMMON,
        lambda: action(done=("finish",)) == ("wipe and photograph", None),
    ),
    Rule(
        "a low reading on the panel comes before any machine",
        OWN,
        lambda: action(budget=replace(budget(0), unexplained=True)) == ("read that place again", None),
    ),
    Rule(
        "what a step achieved before stands beside the first test spot, with how many panels it rests on",
        OWN,
        lambda: (
            "medium polish, medium foam, random orbital, 3 panels, -80 %"
            in told(by_step(experiences(FINISHED, paint="clear coat"), LADDER)["medium"])
        ),
    ),
    Rule(
        "what was reached on one paint says nothing about another",
        OWN,
        lambda: (
            reachable(FINISHED, paint="single stage") is None
            and (best := reachable(FINISHED, paint="clear coat")) is not None
            and best.density_mm_per_cm2 == 1.5
        ),
    ),
]

SURFACES = [
    Rule(
        "steel's ladder is not offered to bumpers: no wool, no rotary, no heavy cut, half the removal",
        COMMON + "; half: " + OWN,
        lambda: (
            offered(panel(material="plastic")) == {"finish", "medium", "medium firm"}
            and on(panel(material="plastic")).lifetime_um == 6
        ),
    ),
    Rule(
        "repaints get the gentler part of the ladder",
        COMMON,
        lambda: "heavy" not in offered(panel(repainted="yes")) | offered(panel(painted_on="2024-02-01")),
    ),
    Rule(
        "single-stage paint has no clear coat: gentle steps, colour on the pad",
        COMMON,
        lambda: (
            "heavy" not in offered(panel(), "single stage")
            and "colour itself comes off" in told_all(on(panel(), "single stage").cautions)[0]
        ),
    ),
    *[
        Rule(
            f"{paint}: no abrasive polishing at all",
            COMMON,
            lambda paint=paint: (
                on(panel(), paint).polishing == "never"  # type: ignore[misc]
                and advised(state(surface=on(panel(), paint)), LIMITS).rung is None
            ),
        )
        for paint in NEVER_POLISHED
    ],
    Rule(
        "a film on one panel of a clear-coated car counts for that panel",
        COMMON,
        lambda: on(panel(paint="film")).polishing == "never" and on(panel()).polishing == "allowed",
    ),
    Rule(
        "fresh paint is left to harden, and the day it is hard is said",
        "30 to 90 days: " + COMMON,
        lambda: (
            on(panel(painted_on="2026-02-01")).polishing == "not yet"
            and "2026-05-02" in told(on(panel(painted_on="2026-02-01")).why[0])
            and on(panel(painted_on="2025-02-01")).polishing == "allowed"
        ),
    ),
    Rule(
        "an unknown paint is found out first",
        OWN,
        lambda: action(surface=on(panel(), "unknown")) == ("say what the paint is", None),
    ),
    Rule(
        "metal, plastic and repaint are not alike for a test spot",
        COMMON,
        lambda: (
            len(
                {
                    kinds_alike(p, "clear coat")
                    for p in (panel(), panel(material="plastic"), panel(repainted="yes"))
                }
            )
            == 3
        ),
    ),
    Rule(
        "polishing mends no chip, dent, crack or scratch to the nail",
        COMMON,
        lambda: NOT_BY_POLISHING == ("chip", "dent", "deep scratch", "crack"),
    ),
]

AROUND = [
    Rule(
        "smooth paint is not clayed because of a date: 30 months only warn",
        COMMON,
        lambda: (
            not decontamination_grade("smooth", TABLES.decontamination).clay
            and [r.code for r in decontamination_cautions(TABLES.decontamination[0], 30)] == ["months passed"]
        ),
    ),
    Rule(
        "removers: cool paint, shade, gloves, air, rinse before they dry",
        COMMON + "; the label decides",
        lambda: all(
            word in " ".join(told_all(decontamination_cautions(TABLES.decontamination[2], 1)))
            for word in ("cool paint", "shade", "gloves", "fresh air", "rinse before")
        ),
    ),
    Rule(
        "clay mars",
        COMMON,
        lambda: "Clay mars" in " ".join(told_all(decontamination_cautions(TABLES.decontamination[1], 1))),
    ),
    Rule(
        "six movements are one set, not six times the removal",
        "a set is four to six movements: " + COMMON,
        lambda: sets_of(TABLES.sets, usual=1, sets=None, movements=6) == 1,
    ),
    Rule(
        "six sets are asked about before they count",
        OWN,
        lambda: (
            "movements" in refused(lambda: sets_of(TABLES.sets, usual=1, sets=6, movements=None), JobError)
            and sets_of(TABLES.sets, usual=1, sets=6, movements=None, sure=True) == 6
        ),
    ),
    Rule(
        "a coating has three times: levelled within minutes, dry for a day, unwashed for a week",
        COMMON + "; the label decides",
        lambda: (
            (coating := TABLES.protection[2]).level_minutes.high <= 5
            and coating.keep_dry_hours == 24
            and coating.no_wash_days == 7
            and care_days(coating, TODAY)[0].day == date(2026, 3, 9)
        ),
    ),
    Rule(
        "a filler masks and does not remove",
        COMMON,
        lambda: (
            claim(
                before_stage="decontaminated",
                after_stage="wiped",
                on_paint=on_paint(history(step("correct"), step("wipe"), step("fill")), taken_at=None),
            ).word
            == "less visible"
        ),
    ),
    Rule(
        "eyes, lungs, ears, cable, flammable wipes, the lamp: said wherever a step is advised",
        "safety words of trade articles; labels and local rules come first",
        lambda: all(caution in advised(state(), LIMITS).cautions for caution in CAUTIONS),
    ),
]

MASKING = [
    Rule(
        f"{paint}: no filler or glaze is offered in place of polishing either",
        "a glaze shines for good on matt paint: " + COMMON + "; on films and wraps: " + OWN,
        lambda paint=paint: (  # type: ignore[misc]
            "mask it"
            not in {remark.code for remark in advised(state(surface=on(panel(), paint)), LIMITS).alternatives}
        ),
    )
    for paint in NEVER_POLISHED
]

RULES = [*MASKING, *THICKNESS, *NEXT, *SURFACES, *AROUND]


def _rules() -> Rules:
    from defectmap.trade.advice import Rules

    return Rules(limits=LIMITS, ladder=LADDER, effect=EFFECT)


@pytest.mark.parametrize("rule", RULES, ids=[rule.says for rule in RULES])
def test_the_rule_holds(rule: Rule) -> None:
    assert rule.holds(), f"{rule.says} ({rule.source})"


def test_there_are_enough_rules_and_each_says_where_it_is_from() -> None:
    assert len(RULES) >= 42
    assert all(rule.source for rule in RULES)


densities = st.floats(0.5, 40)


@given(
    before=densities,
    rise=st.floats(0.1, 3),
    half=st.floats(0, 20),
    done=st.lists(st.sampled_from(KEYS), min_size=1, max_size=3).map(tuple),
    trials=st.lists(st.sampled_from(KEYS), max_size=4),
    haze=st.floats(0, 0.5),
)
def test_no_worse_result_leads_to_a_harder_step(
    before: float, rise: float, half: float, done: tuple[str, ...], trials: list[str], haze: float
) -> None:
    """Worse by a tenth and by what matters, on the whole panel or on the spots: never a step up."""
    after = before * (1 + rise) + EFFECT.density_mm_per_cm2
    on_panel = state(before=condition(before, half), done=done, after=condition(after, half, haze=haze))
    assert _not_harder(on_panel, done[-1])
    on_spots = state(
        before=condition(before, half),
        trials=tuple(Trial(rung=key, found=condition(after, half, haze=haze)) for key in trials),
    )
    if trials:
        assert _not_harder(on_spots, max(trials, key=KEYS.index))


@example(first=4.0, half=0.0, events=[(True, "finish", 1.0, 0.0, False), (False, "finish", 2.0, 0.0, True)])
@given(
    first=densities,
    half=st.floats(0, 5),
    events=st.lists(
        st.tuples(st.booleans(), st.sampled_from(KEYS), st.floats(0.05, 3), st.floats(0, 0.5), st.booleans()),
        min_size=1,
        max_size=8,
    ),
)
def test_through_any_sequence_of_steps_a_worse_result_is_never_answered_with_a_harder_one(
    first: float, half: float, events: list[tuple[bool, str, float, float, bool]]
) -> None:
    """On spots and on the whole panel, measured or not, in any order: looked at after each of them."""
    at_first = condition(first, half, haze=0.05)
    now, previous = at_first, at_first
    done: tuple[str, ...] = ()
    trials: tuple[Trial, ...] = ()
    for whole, key, factor, haze, measured in events:
        found = condition(now.density.value * factor, half, haze=haze)
        if whole:
            done, previous = (*done, key), now
            trials = tuple(replace(one, again=False) for one in trials)
            now = found
            after = found if measured else None
            panel_ = state(before=at_first, done=done, trials=trials, after=after, previous=previous)
            worse = worse_in(found, previous, EFFECT) if measured else ()
            hardest = key
        else:
            spot = Trial(rung=key, found=found if measured else None, before=now, again=bool(done))
            trials = (*(one for one in trials if one.rung != key), spot)
            panel_ = state(before=at_first, done=done, trials=trials, after=now if done else None)
            worse = worse_in(found, now, EFFECT) if measured else ()
            hardest = max((*done, *(one.rung for one in trials)), key=KEYS.index)
        if "density" in worse:
            assert _not_harder(panel_, hardest)


def _not_harder(panel_: PanelState, last: str) -> bool:
    rung = advised(panel_, LIMITS).rung
    return rung is None or KEYS.index(rung.key) <= KEYS.index(last)


@given(
    paint=st.sampled_from(NEVER_POLISHED),
    material=st.sampled_from(["steel", "plastic", "unknown"]),
    repainted=st.sampled_from(["no", "yes"]),
    own=st.booleans(),
    before=densities,
    trials=st.lists(st.tuples(st.sampled_from(KEYS), densities), max_size=4),
    done=st.lists(st.sampled_from(KEYS), max_size=3).map(tuple),
)
def test_no_abrasive_advice_for_matt_satin_film_and_wrap(
    paint: str,
    material: str,
    repainted: str,
    own: bool,
    before: float,
    trials: list[tuple[str, float]],
    done: tuple[str, ...],
) -> None:
    one = panel(material=material, repainted=repainted, paint=paint if own else "")
    surface = on(one, "clear coat" if own else paint)
    found = advised(
        state(
            before=condition(before),
            trials=tried(*trials),
            done=done,
            after=condition(before) if done else None,
            surface=surface,
        ),
        LIMITS,
    )
    assert found.rung is None
    assert found.action == "stop: never polished"
    assert left(history(panel=one, readings=readings(120, 121, 122)), surface).left_um == 0
