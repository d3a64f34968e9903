"""Up the ladder: from the gentlest step to the first that is untried, unjudged, or good enough."""

from __future__ import annotations

import math
from collections.abc import Sequence

from defectmap.trade.advice import Action, Advice, PanelState, Rules, advice
from defectmap.trade.budget import ALTERNATIVES
from defectmap.trade.condition import (
    Condition,
    against,
    has_trails,
    judged,
    measured,
    verdict_but_trails,
    without_trails,
)
from defectmap.trade.judging import Quantity, Verdict, judge
from defectmap.trade.stopping import stopped_by
from defectmap.trade.table_forms import Rung
from defectmap.trade.targets import Limits
from defectmap.trade.worse import worse_in
from defectmap.words.remark import Remark, Value

_QUANTITIES: dict[str, Quantity] = {"density": "density", "longest scratch": "length"}


def climb(state: PanelState, now: Condition, rules: Rules) -> Advice:
    """Go up the ladder; a trial that made it worse ends it, a like panel's test spot shortens it."""
    why = _above(now, rules.limits)
    settled = _settled(state, rules)
    if settled is not None and state.settled is not None:
        values = {"step": settled.name, "panel": state.settled.on}
        why.append(
            Remark(
                code="settled elsewhere",
                values={**values, "found": against(state.settled.found, rules.limits)},
            )
        )
        return if_affordable(state, "correct the panel", settled, why, now=now, rules=rules)
    reached = _best_trial(state, rules)
    if reached is None:
        worse = _worse_trial(state, now, rules)
        if worse is not None:
            return worse
    for rung in rules.ladder:
        tried = [trial for trial in state.trials if trial.rung == rung.key]
        found = [trial.found for trial in tried if trial.found is not None]
        if rung.key in state.done:
            why.append(Remark(code="done, not enough", values={"step": rung.name}))
            continue
        if not tried:
            why.append(Remark(code="gentlest untried", values={"step": rung.name}))
            why += [state.experience[rung.key]] if rung.key in state.experience else []
            return if_affordable(state, "try on a spot", rung, why, now=now, rules=rules)
        if not found:
            why.append(Remark(code="tried, not wiped", values={"step": rung.name}))
            return advice(state, "wipe and photograph", why, measured=measured(now))
        answer = _judge_trial(state, rung, found[-1], why, rules)
        if answer is not None:
            return answer
    why.append(Remark(code="no stronger step"))
    return advice(state, "stop: no stronger step", why, measured=measured(now), alternatives=ALTERNATIVES)


def if_affordable(
    state: PanelState,
    action: Action,
    rung: Rung,
    why: list[Remark],
    *,
    now: Condition,
    rules: Rules,
    trails: bool = False,
) -> Advice:
    """The step, if the clear coat allows it with the finishing down that it asks for."""
    finish = rules.ladder[0] if rung.leaves_haze or trails else None
    wanted = [(one, one.sets) for one in (rung, finish) if one is not None]
    taken = sum(step.removal_um.high * sets for step, sets in wanted)
    values: dict[str, Value] = {"taken": taken, "left": state.budget.left_um, "source": rung.source}
    if state.budget.unexplained:
        why.append(Remark(code="low reading stops"))
        return advice(state, "read that place again", why, measured=measured(now))
    if not state.budget.allows(*wanted):
        code = "does not fit with finishing" if finish else "step does not fit"
        why += [Remark(code=code, values=values), state.budget.assumption]
        return advice(state, "stop: clear coat", why, measured=measured(now), alternatives=ALTERNATIVES)
    why.append(Remark(code="takes of what is left", values=values))
    return advice(state, action, why, measured=measured(now), rung=rung, finish=finish)


def more_photographs(
    state: PanelState, found: Condition, limits: Limits, why: Sequence[Remark] = ()
) -> Advice:
    """Ask for more spots, because the interval reaches across a limit."""
    open_ones = {name: pair for name, pair in judged(found, limits).items() if judge(*pair) == "undecided"}
    aim = limits.aim(list(open_ones))
    said = [
        Remark(code=f"undecided {name}", values={"found": figure.found(_QUANTITIES[name]), "limit": limit})
        for name, (figure, limit) in open_ones.items()
    ]
    alone = any(math.isinf(figure.high) for figure, _ in open_ones.values())
    said.append(Remark(code="one photograph alone" if alone else "range reaches across", values={"aim": aim}))
    said.append(Remark(code="photograph more"))
    return advice(state, "photograph more spots", [*why, *said], measured=measured(found))


def _above(now: Condition, limits: Limits) -> list[Remark]:
    why = [Remark(code="above", values={"aim": limits.for_marks(), "found": against(now, limits)})]
    if now.trail is not None and has_trails(now, limits):
        why.append(Remark(code="of that trails", values={"trail": now.trail.value}))
    return why


def _settled(state: PanelState, rules: Rules) -> Rung | None:
    """The step that a like panel's test spot settled, where this panel has not been tried or done itself."""
    if state.settled is None or state.trials or state.done:
        return None
    return next((rung for rung in rules.ladder if rung.key == state.settled.rung), None)


def _bare(found: Condition, rung: Rung, rules: Rules) -> Condition:
    """Without the trails that finishing down clears; what that leaves itself, nothing clears."""
    return found if rung is rules.ladder[0] else without_trails(found, rules.limits)


def _verdict(found: Condition, rung: Rung, rules: Rules) -> Verdict:
    return verdict_but_trails(found, _bare(found, rung, rules), rules.limits)


def _best_trial(state: PanelState, rules: Rules) -> Rung | None:
    for rung in rules.ladder:
        for trial in state.trials:
            if trial.found is None or trial.rung != rung.key or rung.key in state.done:
                continue
            if _verdict(trial.found, rung, rules) == "reached":
                return rung
    return None


def _worse_trial(state: PanelState, now: Condition, rules: Rules) -> Advice | None:
    """Stop where the newest look at a test spot shows it worse than it was."""
    rungs = {rung.key: rung for rung in rules.ladder}
    for trial in state.trials:
        if trial.found is None or (trial.rung in state.done and not trial.again):
            continue
        rung = rungs.get(trial.rung)
        bare = trial.found if rung is None else _bare(trial.found, rung, rules)
        than = trial.before or now
        worse = worse_in(bare, than, rules.effect)
        if worse:
            why = [
                Remark(
                    code="worse on a test spot", values={"step": trial.rung if rung is None else rung.name}
                )
            ]
            return stopped_by(state, worse, now=bare, than=than, why=why)
    return None


def _judge_trial(
    state: PanelState, rung: Rung, found: Condition, why: list[Remark], rules: Rules
) -> Advice | None:
    """What follows from a trial that was measured; None to go on to the next rung."""
    limits = rules.limits
    bare = _bare(found, rung, rules)
    trails = bare is not found
    verdict = verdict_but_trails(found, bare, limits)
    values: dict[str, Value] = {"step": rung.name, "found": against(bare, limits)}
    if verdict == "undecided" and not trails:
        why.append(Remark(code="tried, not settled", values={"step": rung.name}))
        return more_photographs(state, bare, limits, why)
    if verdict != "not reached":
        code = "trial reached" if verdict == "reached" else "trial may have reached"
        why.append(Remark(code=f"{code} but trails" if trails else code, values=values))
        return if_affordable(state, "correct the panel", rung, why, now=found, rules=rules, trails=trails)
    why.append(Remark(code="trial not enough", values=values))
    return None
