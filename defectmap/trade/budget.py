"""The clear-coat budget: what may still come off, what a plan takes, and where it has to stop.

The arithmetic always takes the unfavourable end: the lowest reading less what the gauge is uncertain by, the
low end of what the clear coat may be, the high end of what a step may take, over the life of the paint. Every
figure behind it is common practice, no source (`tables.toml`).
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from defectmap.trade.facts import PanelHistory, StepRecord
from defectmap.trade.surface import NO_GAUGE, Surface
from defectmap.trade.table_forms import FilmThickness, Gauge, Range, Rung
from defectmap.trade.thickness import PanelThickness
from defectmap.words.remark import Remark, Value

ROUNDING_UM = 1e-9  # sums of decimal fractions must not lose a whole set
UNLIMITED_SETS = 100
NOTHING = Range(low=0.0, high=0.0)
ALTERNATIVES = (Remark(code="leave it"), Remark(code="mask it"), Remark(code="refer it"))
UNPOLISHED = (Remark(code="leave it"), Remark(code="refer it"))  # a glaze shines on matt paint


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """What may still come off one panel, in µm."""

    panel: str
    known: bool  # whether film thickness was measured, or cannot be
    clear_um: Range  # what the clear coat is taken to have been when new
    keep_um: float
    lifetime_um: float
    spent_um: Range  # over the life of this paint
    left_um: float  # never negative
    assumption: Remark
    remarks: tuple[Remark, ...]
    read: bool = True  # whether it rests on readings of this panel; without them no figure goes into a report
    uncertainty_um: float = 0.0  # of the lowest reading, taken off
    unexplained: bool = False  # a low reading that nothing explains stops polishing
    stop: Remark | None = None  # why nothing at all may come off, where it is not for lack of clear coat
    spent_before_um: Range = NOTHING  # the part of it in earlier jobs

    def sets(self, rung: Rung) -> int:
        """Whole sets of a step that fit, at the high end of its removal."""
        if rung.removal_um.high <= 0:
            return UNLIMITED_SETS
        return max(0, math.floor(self.left_um / rung.removal_um.high + ROUNDING_UM))

    def allows(self, *removals: tuple[Rung, int]) -> bool:
        """Whether these steps, each with its sets, fit together."""
        taken = sum(rung.removal_um.high * sets for rung, sets in removals)
        return taken <= self.left_um + ROUNDING_UM


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedStep:
    """One step of a plan, and what is left of the budget after it (the low end is what counts)."""

    rung: Rung
    sets: int
    removal_um: Range
    left_um: Range


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetPlan:
    """The steps that fit; `stopped` where a step that was asked for did not."""

    steps: tuple[PlannedStep, ...]
    stopped: bool
    reason: Remark | None
    alternatives: tuple[Remark, ...]


def budget_for(
    history: PanelHistory,
    thickness: PanelThickness,
    film: FilmThickness,
    gauge: Gauge,
    *,
    surface: Surface | None = None,
) -> Budget:
    """What the clear coat of a panel still allows.

    Parameters
    ----------
    history : PanelHistory
        Its steps count as spent, at both ends of their range, with those of earlier jobs.
    thickness : PanelThickness
        Of the same panel.
    film, gauge : FilmThickness, Gauge
        Assumptions from the trade tables, and the shop's gauge.
    surface : Surface, optional
        What the panel is; painted metal if not given.
    """
    panel, surface = history.panel, surface or Surface()
    lowest = thickness.minimum_um
    uncertain = 0.0 if lowest is None else gauge.uncertainty_um(lowest)
    clear, assumption = _clear_coat(panel.clear_coat_um, lowest, film, gauge)
    keep = max(film.keep_share * clear.low, film.keep_um)
    spent, before = spent_on(history), spent_by(_of_this_paint(history, history.earlier_steps))
    lifetime = min(film.lifetime_um, film.lifetime_um if surface.lifetime_um is None else surface.lifetime_um)
    read = thickness.measured or panel.clear_coat_um is not None
    known = read or panel.material in NO_GAUGE
    allowed = min(clear.low - keep, lifetime) - spent.high
    if lowest is not None:
        # the film itself: the thinnest place less floor, doubt and what was spent (our own caution)
        allowed = min(allowed, lowest - film.thin_um - uncertain - spent.high)
    stop = _stop(thickness, known, surface)
    return Budget(
        panel=panel.name,
        known=known,
        clear_um=clear,
        keep_um=keep,
        lifetime_um=lifetime,
        spent_um=spent,
        left_um=0.0 if stop is not None else max(0.0, allowed),
        assumption=assumption,
        remarks=(*thickness.remarks, *surface.cautions, *_remarks(history, read, known, before)),
        read=read,
        uncertainty_um=uncertain,
        unexplained=bool(thickness.unexplained),
        stop=stop,
        spent_before_um=before,
    )


def _stop(thickness: PanelThickness, known: bool, surface: Surface) -> Remark | None:
    if surface.polishing != "allowed":
        return surface.why[0]
    if not known:
        return Remark(code="nothing can be planned")
    return Remark(code="low reading stops") if thickness.unexplained else None


def _remarks(history: PanelHistory, read: bool, known: bool, before: Range) -> list[Remark]:
    remarks = []
    if history.panel.material in NO_GAUGE and not read:
        remarks.append(Remark(code="no gauge reads it", values={"material": history.panel.material}))
    if not known:
        remarks.append(Remark(code="not measured"))
    if before.high > 0:
        remarks.append(Remark(code="spent before", values={"low": before.low, "high": before.high}))
    return remarks


def spent_on(history: PanelHistory) -> Range:
    """What corrections took off this paint over its life, at the place that had most of them, in µm."""
    return spent_by(_of_this_paint(history, (*history.earlier_steps, *history.steps)))


def spent_by(steps: Sequence[StepRecord]) -> Range:
    """What these corrections took off the place that had most of them, low and high end in µm."""
    whole = [0.0, 0.0]
    spots: dict[str, list[float]] = defaultdict(lambda: [0.0, 0.0])
    for step in steps:
        if step.kind == "correct":
            at = whole if step.spot is None else spots[step.spot]
            at[0] += step.removal_low_um
            at[1] += step.removal_high_um
    worst = max(spots.values(), key=lambda taken: taken[1], default=[0.0, 0.0])
    return Range(low=whole[0] + worst[0], high=whole[1] + worst[1])


def _of_this_paint(history: PanelHistory, steps: Sequence[StepRecord]) -> tuple[StepRecord, ...]:
    painted = history.panel.painted_on or ""
    return tuple(step for step in steps if step.at[:10] >= painted)


def plan_steps(budget: Budget, wanted: Sequence[tuple[Rung, int]]) -> BudgetPlan:
    """Lay the wanted steps against the budget; the plan ends before the first that does not fit.

    Parameters
    ----------
    wanted : sequence of (Rung, int)
        Steps with their number of sets, in order.
    """
    steps: list[PlannedStep] = []
    left = Range(low=budget.left_um, high=budget.left_um)
    for rung, sets in wanted:
        removal = Range(low=rung.removal_um.low * sets, high=rung.removal_um.high * sets)
        if removal.high > left.low + ROUNDING_UM:
            values: dict[str, Value] = {
                "sets": sets,
                "step": rung.name,
                "high": removal.high,
                "left": left.low,
            }
            return BudgetPlan(
                steps=tuple(steps),
                stopped=True,
                reason=budget.stop or Remark(code="does not fit", values=values),
                alternatives=ALTERNATIVES if budget.known else (),
            )
        left = Range(low=max(0.0, left.low - removal.high), high=max(0.0, left.high - removal.low))
        steps.append(PlannedStep(rung=rung, sets=sets, removal_um=removal, left_um=left))
    return BudgetPlan(steps=tuple(steps), stopped=False, reason=None, alternatives=())


def _clear_coat(
    entered_um: float | None, lowest_um: float | None, film: FilmThickness, gauge: Gauge
) -> tuple[Range, Remark]:
    if entered_um is not None:
        # Entered from a gauge that sees layers; it is no better than such gauges are.
        doubt = gauge.uncertainty_um(entered_um)
        values = {"entered": entered_um, "doubt": doubt}
        return Range(low=max(0.0, entered_um - doubt), high=entered_um + doubt), Remark(
            code="clear coat entered", values=values
        )
    values = {"low": film.clear_um.low, "high": film.clear_um.high}
    lowest = math.inf if lowest_um is None else lowest_um - gauge.uncertainty_um(lowest_um)
    if lowest >= film.whole_um.low:
        return film.clear_um, Remark(code="clear coat assumed", values=values)
    # A film that is thinner than a thin factory film has lost, or never had, clear coat in proportion: our
    # own caution, no source.
    share = max(0.0, lowest) / film.whole_um.low
    low = film.clear_um.low * share
    values = {**values, "usual": film.whole_um.low, "taken": low}
    return Range(low=low, high=film.clear_um.high * share), Remark(
        code="clear coat in proportion", values=values
    )
