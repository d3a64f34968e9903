"""The marks are within the limit: stop, or finish down for haze and buffer trails."""

from __future__ import annotations

from defectmap.trade.advice import Action, Advice, PanelState, Rules, advice
from defectmap.trade.climbing import if_affordable
from defectmap.trade.condition import (
    Condition,
    above,
    against,
    has_trails,
    measured,
    verdict_on,
    without_trails,
)
from defectmap.trade.worse import haze_rose
from defectmap.words.remark import Remark, Value


def is_finished(state: PanelState, rules: Rules) -> bool:
    """Whether finishing down was the last that was tried: the trails that it left, no other one clears."""
    if not rules.ladder:
        return True
    if state.done:
        return state.done[-1] == rules.ladder[0].key
    found = [trial.found for trial in state.trials if trial.rung == rules.ladder[0].key]
    return any(one is not None and without_trails(one, rules.limits) is not one for one in found)


def finish_or_stop(state: PanelState, now: Condition, bare: Condition, rules: Rules) -> Advice:
    """Stop as good enough, or finish down first."""
    limits, finish = rules.limits, rules.ladder[0]
    reasons = _reasons(state, now, bare, rules)
    values = {"aim": limits.for_marks(), "found": against(bare, limits)}
    code = "within" if verdict_on(bare, limits) == "reached" else "trails first"
    if code == "within" and bare is not now:
        code = "within but for trails"
    if code == "trails first" and bare is now:
        code = "haze first"
    why = [Remark(code=code, values=values)]
    if not reasons:
        return advice(state, "stop: good enough", why, measured=measured(now))
    why += reasons
    if not state.budget.known:
        why.append(Remark(code="finishing takes clear coat too"))
        return advice(state, "read film thickness", why, measured=measured(now))
    if finish.key in state.done[-1:]:
        why.append(Remark(code="finishing done, not enough"))
    trials = [trial for trial in state.trials if trial.rung == finish.key]
    if trials and not state.done and all(trial.found is None for trial in trials):
        why.append(Remark(code="tried, not wiped", values={"step": finish.name}))
        return advice(state, "wipe and photograph", why, measured=measured(now))
    action: Action = "finish down" if state.done or trials else "try on a spot"
    return if_affordable(state, action, finish, why, now=now, rules=rules)


def _reasons(state: PanelState, now: Condition, bare: Condition, rules: Rules) -> list[Remark]:
    limits, reasons = rules.limits, []
    last = next((rung for rung in rules.ladder if rung.key in state.done[-1:]), None)
    if last is not None and last.leaves_haze:
        reasons.append(Remark(code="step leaves haze", values={"step": last.name}))
    before = state.before.haze if state.before is not None else None
    if above(now.haze, limits.haze) and not _finishing_did_nothing(state, now, rules):
        reasons.append(Remark(code="haze above", values={"aim": limits.aim(["haze"])}))
    if (
        state.done
        and now.haze is not None
        and before is not None
        and haze_rose(now.haze, before, rules.effect)
    ):
        rise = {"before": before.value, "after": now.haze.value}
        reasons.append(Remark(code="haze rose", values=rise))
    if now.trail is not None and (bare is not now or has_trails(now, limits)):
        code = "trails above" if has_trails(now, limits) else "trails seem above"
        values: dict[str, Value] = {
            "aim": limits.aim(["trail"]),
            "found": now.trail.found("density"),
            "limit": limits.trail_mm_per_cm2 or 0.0,
        }
        reasons.append(Remark(code=code, values=values))
    return reasons


def _finishing_did_nothing(state: PanelState, now: Condition, rules: Rules) -> bool:
    """Whether finishing was the last step and haze did not fall by as much as matters: it will not again."""
    than = state.previous or state.before
    if state.done[-1:] != (rules.ladder[0].key,) or than is None or than.haze is None or now.haze is None:
        return False
    effect = rules.effect
    return than.haze.value - now.haze.value < max(effect.haze, effect.haze_percent / 100 * than.haze.value)
