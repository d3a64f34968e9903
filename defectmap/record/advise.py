"""From the record to what the rules of advice and budget look at."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, Literal

from defectmap.record.overview import JobOverview, PanelOverview, SpotFigures
from defectmap.trade.advice import Advice, PanelState, Rules
from defectmap.trade.alike import settle_alike
from defectmap.trade.budget import Budget, budget_for
from defectmap.trade.condition import Condition, Trial
from defectmap.trade.facts import PanelHistory, StepRecord, Target
from defectmap.trade.judging import Estimate, estimate
from defectmap.trade.memory import FinishedPanel, by_step, experiences, reachable
from defectmap.trade.next_step import next_step
from defectmap.trade.removal import Removal, removal_of
from defectmap.trade.stages import BASELINE, PROOF
from defectmap.trade.surface import Surface, kinds_alike, paint_of, surface_of
from defectmap.trade.table_forms import Goal
from defectmap.trade.tables import TradeTables
from defectmap.trade.targets import Limited, Limits
from defectmap.trade.thickness import PanelThickness, vehicle_thickness

ASSUMED_LONGEST = 0.15  # where the shop has no series of its own: our own caution
ASSUMED_ON_A_SPOT = 0.2  # coefficient of variation of one test spot, likewise
TEST_SPOT = "test spot"


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeatability:
    """Coefficients of variation of one photograph, from the shop's own repeat series; None where unknown."""

    density: float | None = None
    haze: float | None = None
    longest_scratch: float = ASSUMED_LONGEST  # as a maximum has no scatter over spots

    @classmethod
    def of(cls, known: Mapping[Any, float]) -> Repeatability:
        """From the relative scatter of a set-up's figures, as its profile names them."""
        return cls(
            density=known.get("density all"),
            haze=known.get("haze"),
            longest_scratch=known.get("longest scratch", ASSUMED_LONGEST),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelAdvice:
    """What to do next on a panel, with the limits, the film and the budget behind it."""

    advice: Advice
    limits: Limits
    thickness: PanelThickness
    budget: Budget
    surface: Surface
    removal: Removal  # in this job, by the gauge and as the steps estimate it
    after: Condition | None = None  # what was photographed after the last correction and its wipe


def advise_panels(
    look: JobOverview,
    tables: TradeTables,
    repeatability: Repeatability | None = None,
    *,
    finished: Sequence[FinishedPanel] = (),
) -> tuple[PanelAdvice, ...]:
    """Recommend the next step for every panel of a job, in the order of the panels.

    Parameters
    ----------
    finished : sequence of FinishedPanel, optional
        The shop's memory: what was reached before, on which paint and by which steps.
    """
    known, day = repeatability or Repeatability(), date.today()
    films = vehicle_thickness([panel.history for panel in look.panels], tables.film, tables.gauge)
    limits = limits_of(look.job.target, tables.goal)
    rules = Rules(limits=limits, ladder=tables.ladder, effect=tables.effect)
    paints = [paint_of(panel.history.panel, look.job.paint) for panel in look.panels]
    surfaces = [surface_of(p.history.panel, look.job.paint, tables, today=day) for p in look.panels]
    budgets = [
        budget_for(panel.history, film, tables.film, tables.gauge, surface=surface)
        for panel, film, surface in zip(look.panels, films, surfaces, strict=True)
    ]
    states = [
        _remembering(replace(panel_state(panel, budget, known), surface=surface), paint, finished, tables)
        for panel, budget, surface, paint in zip(look.panels, budgets, surfaces, paints, strict=True)
    ]
    kinds = [kinds_alike(panel.history.panel, look.job.paint) for panel in look.panels]
    states = settle_alike(states, kinds, rules)
    return tuple(
        PanelAdvice(
            advice=next_step(state, rules),
            limits=limits,
            thickness=film,
            budget=state.budget,
            surface=state.surface,
            removal=removal_of(panel.history, tables.gauge),
            after=state.after,
        )
        for panel, film, state in zip(look.panels, films, states, strict=True)
    )


def _remembering(
    state: PanelState, paint: str, finished: Sequence[FinishedPanel], tables: TradeTables
) -> PanelState:
    return replace(
        state,
        reachable=reachable(finished, paint=paint),
        experience=by_step(experiences(finished, paint=paint), tables.ladder),
    )


def limits_of(target: Target, goal: Goal) -> Limits:
    """What was agreed, filled up from the tables."""
    given: dict[Limited, bool] = {  # as below: 0 left density and haze to the tables in older records
        "density": bool(target.density_mm_per_cm2),
        "haze": bool(target.haze),
        "trail": target.trail_mm_per_cm2 is not None,
        "longest scratch": target.longest_scratch_mm is not None,
    }
    return Limits(
        density_mm_per_cm2=target.density_mm_per_cm2 or goal.density_mm_per_cm2,
        haze=target.haze or goal.haze or None,
        trail_mm_per_cm2=goal.trail_mm_per_cm2
        if target.trail_mm_per_cm2 is None
        else target.trail_mm_per_cm2,
        longest_scratch_mm=target.longest_scratch_mm,
        agreed=frozenset(name for name, agreed in given.items() if agreed),
        least_density_mm_per_cm2=goal.least_density_mm_per_cm2,
        least_haze=goal.least_haze,
    )


def panel_state(panel: PanelOverview, budget: Budget, repeatability: Repeatability) -> PanelState:
    """All that the next step on this panel depends on.

    A photograph counts for what was done before it, by the camera's clock where it has one: photographs of
    a test spot belong to the last step tried on that spot, provided a solvent wipe came between.
    """
    there, panel = panel, _of_one_kind(panel)
    history = panel.history
    whole = [s for s in history.steps if s.kind == "correct" and s.spot is None]
    return PanelState(
        panel=history.panel.name,
        before=condition_of(_latest(_measured(panel, BASELINE)), repeatability),
        trials=tuple(_trials(panel, repeatability)),
        done=tuple(step.rung or "" for step in whole),
        after=_proof(panel, whole[-1:], None, repeatability),
        previous=_proof(panel, whole[-2:-1], whole[-1], repeatability) if len(whole) > 1 else None,
        budget=budget,
        films_aside=_measured_count(there) > _measured_count(panel),
        catches_nail=history.panel.catches_nail,
        protected=_protected(history, whole),
        proof_too_old=bool(whole) and any(f.at <= whole[-1].at for f in _measured(panel, PROOF)),
    )


def _of_one_kind(panel: PanelOverview) -> PanelOverview:
    """The panel with its photographs alone, or with its films alone where no stage has a photograph.

    What was agreed is meant for photographs, and a film held against a photograph would say nonsense.
    """
    every = [one for stage in panel.stages for one in stage.measured]
    films = bool(every) and all(one.film for one in every)
    stages = tuple(
        replace(stage, measured=tuple(one for one in stage.measured if one.film is films))
        for stage in panel.stages
    )
    return replace(panel, stages=stages)


def _measured_count(panel: PanelOverview) -> int:
    return sum(len(stage.measured) for stage in panel.stages)


def _proof(
    panel: PanelOverview, last: Sequence[StepRecord], until: StepRecord | None, repeatability: Repeatability
) -> Condition | None:
    """What was photographed after a correction (any, where there was none) and a solvent wipe."""
    shots = list(_measured(panel, PROOF))
    if last:
        wipes = [s for s in panel.history.steps if s.kind == "wipe" and s.at > last[0].at]
        shots = [f for f in shots if wipes and f.at > max(last[0].at, wipes[0].at if until else "")]
    if until is not None:
        shots = [f for f in shots if f.at < until.at]
    return condition_of(_latest(shots), repeatability)


def _protected(history: PanelHistory, whole: Sequence[StepRecord]) -> bool:
    on = [step.at for step in history.steps if step.kind == "protect"]
    return bool(on) and (not whole or on[-1] > whole[-1].at)


def condition_of(figures: Sequence[SpotFigures], repeatability: Repeatability) -> Condition | None:
    """What the photographs of one stage say together; None where there is none with a density."""
    found = [f.figures for f in figures if f.figures.every_mark is not None]
    calibrated = [f for f in found if f.calibrated]
    found = calibrated or found
    if not found:
        return None
    haze = [f.haze for f in found if f.haze is not None]
    by_kind = [
        (f.swirl + f.scratch, f.every_mark)
        for f in found
        if f.every_mark is not None and f.swirl is not None and f.scratch is not None
    ]
    trails = [max(0.0, every - lasting) for lasting, every in by_kind]
    longest = [f.longest_scratch_mm for f in found if f.longest_scratch_mm is not None]
    density = [f.every_mark for f in found if f.every_mark is not None]
    shares = [f.directions_share for f in found if f.directions_share is not None]
    known = repeatability if not shares else Repeatability()  # a set-up's series is of photographs

    def maybe(values: Sequence[float], scatter: float | None) -> Estimate | None:
        of: Literal["film", "photograph"] = "film" if shares else "photograph"
        return replace(estimate(values, repeatability=scatter), of=of) if values else None

    every = maybe(density, known.density)
    assert every is not None  # there is one, see above
    return Condition(
        density=every,
        haze=maybe(haze, known.haze),
        trail=maybe(trails, known.density),
        lasting=maybe([lasting for lasting, _ in by_kind], known.density),
        longest_scratch=maybe([max(longest)] if longest else [], known.longest_scratch),
        calibrated=bool(calibrated),
        directions_share=sum(shares) / len(shares) if shares else None,
    )


def _measured(panel: PanelOverview, stage: str) -> tuple[SpotFigures, ...]:
    found = panel.at(stage)
    return () if found is None else found.measured


def _latest(shots: Sequence[SpotFigures]) -> list[SpotFigures]:
    """The latest photograph of each spot."""
    latest: dict[str, SpotFigures] = {}
    for figures in shots:
        if figures.spot not in latest or figures.at >= latest[figures.spot].at:
            latest[figures.spot] = figures
    return list(latest.values())


def _trials(panel: PanelOverview, repeatability: Repeatability) -> list[Trial]:
    """One trial a step, by the newest look at each spot that it was tried on.

    A test spot is one spot on purpose, so where the shop has no series of its own its interval is assumed.
    """
    history = panel.history
    assumed = replace(repeatability, density=repeatability.density or ASSUMED_ON_A_SPOT)
    steps = [s for s in history.steps if s.kind == "correct" and s.spot is not None]
    whole = [s for s in history.steps if s.kind == "correct" and s.spot is None]
    newest: dict[str, dict[str, list[SpotFigures]]] = {}
    for index, step in enumerate(steps):
        over = [s.at for s in whole if s.at > step.at]  # the whole panel, and this spot with it
        later = sorted([*over, *(s.at for s in steps[index + 1 :] if s.spot == step.spot)])
        shots = [
            f
            for f in _measured(panel, TEST_SPOT)
            if f.spot == step.spot
            and f.at > step.at
            and (not later or f.at < later[0])
            and _wiped_between(history, step, f.at)
        ]
        if shots or not over:  # what was polished over before anybody looked says nothing, and never will
            newest.setdefault(step.rung or "", {})[str(step.spot)] = _latest(shots)
    return [_trial(panel, rung, spots, assumed) for rung, spots in newest.items()]


def _trial(
    panel: PanelOverview, rung: str, spots: Mapping[str, Sequence[SpotFigures]], assumed: Repeatability
) -> Trial:
    """A step, and what its spots showed before it: as the last correction of the panel left them, if any."""
    steps = [s for s in panel.history.steps if s.kind == "correct"]
    tried = [s.at for s in steps if s.rung == rung and s.spot in spots][-1]
    whole = [s.at for s in steps if s.spot is None]
    again = bool(whole) and tried > whole[-1]
    seen = _measured(panel, PROOF if again else BASELINE)
    own = [f for f in seen if f.spot in spots and (not again or whole[-1] < f.at < tried)]
    return Trial(
        rung=rung,
        found=condition_of([f for shots in spots.values() for f in shots], assumed),
        before=condition_of(_latest(own), assumed),
        again=again,
    )


def _wiped_between(history: PanelHistory, step: StepRecord, photographed_at: str) -> bool:
    return any(
        other.kind == "wipe" and other.spot in (None, step.spot) and step.at < other.at < photographed_at
        for other in history.steps
    )
