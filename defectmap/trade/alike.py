"""One test spot settles a step for every panel of the same paint and in the same condition."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from defectmap.trade.advice import PanelState, Rules, Settled
from defectmap.trade.condition import verdict_but_trails, without_trails
from defectmap.trade.table_forms import Effect


def settle_alike(states: Sequence[PanelState], kinds: Sequence[object], rules: Rules) -> list[PanelState]:
    """The states, each with the step that a like panel's test spot has settled for it.

    Parameters
    ----------
    states : sequence of PanelState
        The panels of one job.
    kinds : sequence
        What a panel must share with another, in the same order (`surface.kinds_alike`).
    rules : Rules
        What the test spots are held against.
    """
    found = []
    for state, kind in zip(states, kinds, strict=True):
        like = [
            other
            for other, its in zip(states, kinds, strict=True)
            if other is not state and its == kind and same_condition(state, other, rules.effect)
        ]
        settled = next((one for one in (_settled_on(other, rules) for other in like) if one), None)
        found.append(state if settled is None else replace(state, settled=settled))
    return found


def same_condition(one: PanelState, other: PanelState, effect: Effect) -> bool:
    """Whether two panels came with about the same density of marks, and neither has a scratch to the nail."""
    if one.before is None or other.before is None or one.catches_nail or other.catches_nail:
        return False
    if (one.before.directions_share is None) is not (other.before.directions_share is None):
        return False  # a film and a photograph are no pair
    low, high = sorted((one.before.density.value, other.before.density.value))
    return high <= effect.alike_ratio * low


def _settled_on(state: PanelState, rules: Rules) -> Settled | None:
    """The gentlest step that a test spot on this panel has shown to be enough."""
    for rung in rules.ladder:
        for trial in state.trials:
            if trial.rung != rung.key or trial.found is None or not trial.found.calibrated:
                continue
            bare = trial.found if rung is rules.ladder[0] else without_trails(trial.found, rules.limits)
            enough = verdict_but_trails(trial.found, bare, rules.limits) == "reached"
            if enough and rung.key not in _failed(state, rules):
                return Settled(rung=rung.key, on=state.panel, found=trial.found)
    return None


def _failed(state: PanelState, rules: Rules) -> tuple[str, ...]:
    """Steps that were done on that whole panel and were not enough there."""
    if not state.done or state.after is None:
        return ()
    enough = verdict_but_trails(state.after, state.after, rules.limits) != "not reached"
    return () if enough else state.done
