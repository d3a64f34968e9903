"""From the record to what the rules of advice and budget look at."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from defectmap.record.overview import JobOverview, PanelOverview, SpotFigures
from defectmap.trade.advice import Advice, PanelState, next_step
from defectmap.trade.budget import Budget, budget_for
from defectmap.trade.condition import Condition, Trial
from defectmap.trade.facts import PanelHistory, StepRecord, Target
from defectmap.trade.judging import Estimate, estimate
from defectmap.trade.stages import BASELINE, PROOF
from defectmap.trade.tables import Goal, TradeTables
from defectmap.trade.targets import Limited, Limits
from defectmap.trade.thickness import PanelThickness, vehicle_thickness

ASSUMED_LONGEST = 0.15  # where the shop has no series of its own: our own caution
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


def advise_panels(
    look: JobOverview, tables: TradeTables, repeatability: Repeatability | None = None
) -> tuple[PanelAdvice, ...]:
    """Recommend the next step for every panel of a job, in the order of the panels."""
    films = vehicle_thickness([panel.history for panel in look.panels], tables.film)
    limits = limits_of(look.job.target, tables.goal)
    found = []
    for panel, thickness in zip(look.panels, films, strict=True):
        budget = budget_for(panel.history, thickness, tables.film, paint=look.job.paint)
        state = panel_state(panel, budget, repeatability or Repeatability())
        advice = next_step(state, limits=limits, ladder=tables.ladder)
        found.append(PanelAdvice(advice=advice, limits=limits, thickness=thickness, budget=budget))
    return tuple(found)


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
    )


def panel_state(panel: PanelOverview, budget: Budget, repeatability: Repeatability) -> PanelState:
    """All that the next step on this panel depends on.

    A photograph counts for what was done before it, by the camera's clock where it has one: photographs of
    a test spot belong to the last step tried on that spot, provided a solvent wipe came between.
    """
    history = panel.history
    whole = [s for s in history.steps if s.kind == "correct" and s.spot is None]
    proof = _measured(panel, PROOF)
    if whole:
        wipes = [s for s in history.steps if s.kind == "wipe" and s.at > whole[-1].at]
        proof = [f for f in proof if wipes and f.at > whole[-1].at]
    return PanelState(
        panel=history.panel.name,
        before=condition_of(_measured(panel, BASELINE), repeatability),
        trials=tuple(_trials(panel, repeatability)),
        done=tuple(step.rung or "" for step in whole),
        after=condition_of(proof, repeatability),
        budget=budget,
        catches_nail=history.panel.catches_nail,
    )


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
    return Condition(
        density=estimate(density, repeatability=repeatability.density),
        haze=_maybe(haze, repeatability.haze),
        trail=_maybe(trails, repeatability.density),
        lasting=_maybe([lasting for lasting, _ in by_kind], repeatability.density),
        longest_scratch=_maybe([max(longest)] if longest else [], repeatability.longest_scratch),
        calibrated=bool(calibrated),
    )


def _maybe(values: Sequence[float], repeatability: float | None) -> Estimate | None:
    return estimate(values, repeatability=repeatability) if values else None


def _measured(panel: PanelOverview, stage: str) -> list[SpotFigures]:
    """The latest photograph of each spot at that stage."""
    found = panel.at(stage)
    if found is None:
        return []
    latest: dict[str, SpotFigures] = {}
    for figures in found.measured:
        if figures.spot not in latest or figures.at >= latest[figures.spot].at:
            latest[figures.spot] = figures
    return list(latest.values())


def _trials(panel: PanelOverview, repeatability: Repeatability) -> list[Trial]:
    history = panel.history
    steps = [s for s in history.steps if s.kind == "correct" and s.spot is not None]
    stage = panel.at(TEST_SPOT)
    measured = stage.measured if stage is not None else ()
    found: dict[str, list[SpotFigures]] = {}
    for index, step in enumerate(steps):
        later = [s.at for s in steps[index + 1 :] if s.spot == step.spot]
        until = later[0] if later else None
        found.setdefault(step.rung or "", [])
        found[step.rung or ""] += [
            f
            for f in measured
            if f.spot == step.spot
            and f.at > step.at
            and (until is None or f.at < until)
            and _wiped_between(history, step, f.at)
        ]
    return [Trial(rung=rung, found=condition_of(shots, repeatability)) for rung, shots in found.items()]


def _wiped_between(history: PanelHistory, step: StepRecord, photographed_at: str) -> bool:
    return any(
        other.kind == "wipe" and other.spot in (None, step.spot) and step.at < other.at < photographed_at
        for other in history.steps
    )
