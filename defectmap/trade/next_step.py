"""Which step comes next: the questions in their order; the answers are in `climbing` and `finishing`."""

from __future__ import annotations

from dataclasses import replace

from defectmap.trade.advice import Action, Advice, PanelState, Rules, advice
from defectmap.trade.budget import ALTERNATIVES, UNPOLISHED
from defectmap.trade.climbing import climb, more_photographs
from defectmap.trade.condition import Condition, against, measured, verdict_but_trails, without_trails
from defectmap.trade.finishing import finish_or_stop, is_finished
from defectmap.trade.stopping import out_of_reach, stopped_by
from defectmap.trade.targets import Limits
from defectmap.trade.worse import haze_rose, worse_in
from defectmap.words.remark import Remark

_STOPS: dict[str, Action] = {
    "never": "stop: never polished",
    "not yet": "stop: fresh paint",
    "ask first": "say what the paint is",
}


def next_step(state: PanelState, rules: Rules) -> Advice:
    """Recommend the next step.

    Parameters
    ----------
    state : PanelState
        The panel as it is known.
    rules : Rules
        What was agreed, the ladder, and which change matters.
    """
    state, offered = _without_nail(state, rules), state.surface.ladder(rules.ladder)
    rules = replace(rules, ladder=offered) if offered else rules
    polishing = state.surface.polishing
    if polishing in ("never", "not yet"):
        return advice(state, _STOPS[polishing], state.surface.why, alternatives=UNPOLISHED)
    if state.before is None:
        unseen = "films and photographs apart" if state.films_aside else "nothing measured"
        return advice(state, "inspect", [Remark(code=unseen)])
    if state.done and state.after is None and not state.protected:
        why = [Remark(code="corrected, not wiped")]
        why += [Remark(code="proof too old")] if state.proof_too_old else []
        return advice(state, "wipe and photograph", why, measured=measured(state.before))
    now = state.after or state.before
    if not now.calibrated:
        return advice(state, "give the scale", [Remark(code="no scale")], measured=measured(now))
    bare = now if is_finished(state, rules) else without_trails(now, rules.limits)
    found = _judged(state, rules, now, bare)
    if state.protected and (found.rung is not None or found.action not in ("stop: good enough", "inspect")):
        return advice(state, "stop: protected", [Remark(code="protected")], measured=measured(now))
    if polishing == "ask first" and found.action not in ("stop: good enough", "photograph more spots"):
        return advice(state, _STOPS[polishing], state.surface.why, measured=measured(now))
    if not offered and found.rung is not None:  # none of the shop's steps may be used on such a panel
        why = [Remark(code="no stronger step")]
        return advice(state, "stop: no stronger step", why, measured=measured(now), alternatives=ALTERNATIVES)
    return found


def _judged(state: PanelState, rules: Rules, now: Condition, bare: Condition) -> Advice:
    limits = rules.limits
    verdict = verdict_but_trails(now, bare, limits)
    than = state.previous or state.before
    if state.done and than is not None:
        worse = worse_in(bare, than, rules.effect)
        if "density" in worse or ("haze" in worse and not _finishing_may_clear(state, rules, verdict)):
            return stopped_by(state, worse, now=bare, than=than)
    if now.directions_share is not None and verdict != "reached":
        return _films_cannot_tell(state, now, limits)
    if verdict == "undecided" and bare is now:
        return more_photographs(state, now, limits)
    if verdict != "not reached":
        return finish_or_stop(state, now, bare, rules)
    if limits.out_of_reach:
        return out_of_reach(state, now, limits)
    if not state.budget.known and state.surface.polishing == "allowed":
        return advice(
            state, "read film thickness", [Remark(code="clear coat not measured")], measured=measured(now)
        )
    if state.done and _heavy_left_haze(state, rules, now):
        return finish_or_stop(state, now, bare, rules)
    return climb(state, now, rules)


def _films_cannot_tell(state: PanelState, now: Condition, limits: Limits) -> Advice:
    """A film shows more than the photograph a limit is meant for: within it is enough, above it says nothing.

    Our own caution: what only a film shows is no reason to take off clear coat.
    """
    why = [
        Remark(code="film above", values={"found": against(now, limits), "aim": limits.for_marks()}),
        Remark(code="photograph beside film"),
    ]
    return advice(state, "photograph more spots", why, measured=measured(now))


def _finishing_may_clear(state: PanelState, rules: Rules, verdict: str) -> bool:
    """Whether haze that rose is what finishing down is for: after a step other than finishing itself."""
    if not rules.ladder or state.done[-1] == rules.ladder[0].key:
        return False
    return verdict != "not reached" or _last_leaves_haze(state, rules)


def _last_leaves_haze(state: PanelState, rules: Rules) -> bool:
    return any(rung.leaves_haze for rung in rules.ladder if rung.key == state.done[-1])


def _heavy_left_haze(state: PanelState, rules: Rules, now: Condition) -> bool:
    than = state.previous or state.before
    rose = than is not None and haze_rose(now.haze, than.haze, rules.effect)
    return rose and _last_leaves_haze(state, rules)


def _without_nail(state: PanelState, rules: Rules) -> PanelState:
    """The state without its longest scratch where that catches a nail: it is left or referred, not chased."""
    if not state.catches_nail or rules.limits.longest_scratch_mm is None:
        return state

    def bare(found: Condition | None) -> Condition | None:
        return None if found is None else replace(found, longest_scratch=None)

    trials = tuple(replace(one, found=bare(one.found), before=bare(one.before)) for one in state.trials)
    return replace(
        state,
        before=bare(state.before),
        after=bare(state.after),
        previous=bare(state.previous),
        trials=trials,
    )
