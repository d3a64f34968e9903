"""The clear-coat budget: what may still come off, what the plan takes, and where it has to stop.

The arithmetic always takes the unfavourable end: the thinnest place, the low end of what the clear coat may
be, the high end of what a step may take. Every figure behind it is common practice, no source
(`tables.toml`).
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from defectmap.trade.facts import PanelHistory
from defectmap.trade.tables import Film, Range, Rung
from defectmap.trade.thickness import PanelThickness
from defectmap.words.counting import counted

ROUNDING_UM = 1e-9  # sums of decimal fractions must not lose a whole pass
NO_GAUGE = ("plastic", "composite")  # a magnetic or eddy-current gauge reads nothing on these
ALTERNATIVES = (
    "Leave the remaining marks as they are, and say so in the report.",
    "Mask them with a filler or glaze, and call it masking: it hides marks for a while and removes nothing.",
    "Refer the panel to a licensed refinisher.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """What may still come off one panel, in µm."""

    panel: str
    known: bool  # whether film thickness was measured, or cannot be
    clear_um: Range  # what the clear coat is taken to have been before this job
    keep_um: float
    lifetime_um: float
    spent_um: Range  # by the steps of this job
    left_um: float  # never negative
    assumption: str
    remarks: tuple[str, ...]

    def passes(self, rung: Rung) -> int:
        """Whole passes of a step that fit, at the high end of its removal."""
        if rung.removal_um.high <= 0:
            return 100
        return max(0, math.floor(self.left_um / rung.removal_um.high + ROUNDING_UM))

    def allows(self, *removals: tuple[Rung, int]) -> bool:
        """Whether these steps, each with its passes, fit together."""
        taken = sum(rung.removal_um.high * passes for rung, passes in removals)
        return taken <= self.left_um + ROUNDING_UM


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedStep:
    """One step of a plan, and what is left of the budget after it (the low end is what counts)."""

    rung: Rung
    passes: int
    removal_um: Range
    left_um: Range


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetPlan:
    """The steps that fit; `stopped` where a step that was asked for did not."""

    steps: tuple[PlannedStep, ...]
    stopped: bool
    reason: str
    alternatives: tuple[str, ...]


def budget_for(
    history: PanelHistory, thickness: PanelThickness, film: Film, *, paint: str = "unknown"
) -> Budget:
    """What the clear coat of a panel still allows.

    Parameters
    ----------
    history : PanelHistory
        Its steps count as spent, at both ends of their range.
    thickness : PanelThickness
        Of the same panel.
    film : Film
        Assumptions from the trade tables.
    paint : str
        Paint system of the vehicle, as the job has it.
    """
    panel = history.panel
    clear, assumption = _clear_coat(history, thickness, film)
    keep = max(film.keep_share * clear.low, film.keep_um)
    spent = spent_on(history)
    allowed = min(clear.low - keep, film.lifetime_um)
    known = thickness.measured or panel.material in NO_GAUGE or panel.clear_coat_um is not None
    remarks = list(thickness.remarks)
    thin = thickness.minimum_um is not None and thickness.minimum_um < film.thin_um
    if panel.material in NO_GAUGE:
        remarks.append(
            f"{panel.material}: a hand gauge reads nothing here, so the budget is assumed throughout."
        )
    if paint == "single stage":
        remarks.append(
            "Single-stage paint has no clear coat: the colour itself comes off, and shows on the pad. "
            "The same figures are used, on no better ground than caution."
        )
    if panel.repainted == "yes":
        remarks.append("Repainted: its clear coat may be softer, thicker or thinner than assumed.")
    if not known:
        remarks.append(
            "No film thickness is measured: take at least three readings at each of several places."
        )
    return Budget(
        panel=panel.name,
        known=known,
        clear_um=clear,
        keep_um=keep,
        lifetime_um=film.lifetime_um,
        spent_um=spent,
        left_um=max(0.0, 0.0 if thin or not known else allowed - spent.high),
        assumption=assumption,
        remarks=tuple(remarks),
    )


def spent_on(history: PanelHistory) -> Range:
    """What the recorded corrections took off the place that had most of them, low and high end in µm."""
    whole = [0.0, 0.0]
    spots: dict[str, list[float]] = defaultdict(lambda: [0.0, 0.0])
    for step in history.steps:
        if step.kind == "correct":
            at = whole if step.spot is None else spots[step.spot]
            at[0] += step.removal_low_um
            at[1] += step.removal_high_um
    worst = max(spots.values(), key=lambda taken: taken[1], default=[0.0, 0.0])
    return Range(low=whole[0] + worst[0], high=whole[1] + worst[1])


def plan_steps(budget: Budget, wanted: Sequence[tuple[Rung, int]]) -> BudgetPlan:
    """Lay the wanted steps against the budget; the plan ends before the first that does not fit.

    Parameters
    ----------
    wanted : sequence of (Rung, int)
        Steps with their number of passes, in order.
    """
    steps: list[PlannedStep] = []
    left = Range(low=budget.left_um, high=budget.left_um)
    for rung, passes in wanted:
        removal = Range(low=rung.removal_um.low * passes, high=rung.removal_um.high * passes)
        if removal.high > left.low + ROUNDING_UM:
            return BudgetPlan(
                steps=tuple(steps),
                stopped=True,
                reason=(
                    f"{counted(passes, 'pass')} of {rung.name} may take {removal.high:g} µm, and "
                    f"{left.low:g} µm is left."
                    if budget.known
                    else "The film thickness is not measured, so nothing can be planned: take readings."
                ),
                alternatives=ALTERNATIVES if budget.known else (),
            )
        left = Range(low=max(0.0, left.low - removal.high), high=max(0.0, left.high - removal.low))
        steps.append(PlannedStep(rung=rung, passes=passes, removal_um=removal, left_um=left))
    return BudgetPlan(steps=tuple(steps), stopped=False, reason="", alternatives=())


def _clear_coat(history: PanelHistory, thickness: PanelThickness, film: Film) -> tuple[Range, str]:
    measured = history.panel.clear_coat_um
    if measured is not None:
        # Entered from a gauge that sees layers; it is no better than such gauges are.
        low = max(0.0, measured - film.gauge_um)
        return Range(low=low, high=measured + film.gauge_um), (
            f"The clear coat was entered as {measured:g} µm, taken as good to {film.gauge_um:g} µm."
        )
    sentence = (
        "A gauge shows the whole film, not the clear coat. The clear coat is assumed to be "
        f"{film.clear_um.low:g} to {film.clear_um.high:g} µm (common practice, no source); the low end "
        "is used."
    )
    lowest = thickness.minimum_um
    if lowest is None or lowest >= film.whole_um.low:
        return film.clear_um, sentence
    # A film that is thinner than a thin factory film has lost, or never had, clear coat in proportion: our
    # own caution, no source.
    share = lowest / film.whole_um.low
    low = film.clear_um.low * share
    return Range(low=low, high=film.clear_um.high * share), (
        f"{sentence} This film is below {film.whole_um.low:g} µm, so {low:.0f} µm is taken."
    )
