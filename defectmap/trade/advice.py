"""The next step on a panel: least aggressive first, up one rung at a time, and a reason for each.

Rules (common practice, no source): start with the gentlest step on a test spot; wipe it and photograph it;
judge by the interval against what was agreed, or the shop's usual aim where nothing was; step up one rung
only when a gentler one has not reached it; finish down after a step that leaves haze, and where buffer
trails are left, which call for a finer step and never for a heavier one; stop when the target is reached,
when the clear coat allows no more, or at the top.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from defectmap.trade.budget import ALTERNATIVES, Budget
from defectmap.trade.condition import (
    Condition,
    Trial,
    above,
    against,
    has_trails,
    judged,
    verdict_but_trails,
    verdict_on,
    without_trails,
    words_of,
)
from defectmap.trade.judging import judge
from defectmap.trade.tables import Rung
from defectmap.trade.targets import Limited, Limits

Action = Literal[
    "inspect",
    "read film thickness",
    "try on a spot",
    "wipe and photograph",
    "photograph more spots",
    "give the scale",
    "correct the panel",
    "finish down",
    "stop: good enough",
    "stop: clear coat",
    "stop: no stronger step",
]
CAUTIONS = (
    "Edges and body lines have the thinnest paint: tape them or stay off.",
    "Keep the pad moving and the panel cool to the touch; a rotary heats faster than a random orbital.",
    "Plastic, repaints and single-stage paint behave differently: try first; colour on the pad of "
    "single-stage paint is the paint itself.",
    "Wear eye protection, gloves and a dust mask, hearing protection with loud machines; keep the cable and "
    "clothing clear of the pad.",
    "Solvent wipes are flammable: ventilate, no flames or sparks, used cloths into a closed metal bin.",
    "Never look into the inspection lamp or its reflection at close range.",
    "Product labels, safety data sheets and local rules come before anything said here.",
)

INSPECT = "Nothing is measured on this panel after decontamination: wash, decontaminate, photograph, measure."
WIPE = "The panel is corrected; oils hide marks. Wipe it with solvent, let it dry, photograph it, measure."
NO_SCALE = "These photographs have no scale, so their figures cannot be held against mm/cm²."
_NAMES: Mapping[Limited, str] = {"density": "Density of marks", "longest scratch": "The longest scratch"}
_UNITS: Mapping[Limited, str] = {"density": "mm/cm²", "longest scratch": "mm"}
NO_READINGS = "Correction takes clear coat that does not grow back, and how much there is was not measured."


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelState:
    """All that the next step depends on."""

    panel: str
    before: Condition | None  # the inspection after decontamination
    trials: tuple[Trial, ...]
    done: tuple[str, ...]  # correction steps done on the whole panel, oldest first
    after: Condition | None  # measured after the last of `done` and a solvent wipe
    budget: Budget
    catches_nail: bool = False  # a scratch that a fingernail catches


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """What to do next and why; `rung` is None where no correction step is meant."""

    panel: str
    action: Action
    rung: Rung | None
    passes: int
    why: tuple[str, ...]
    measured: tuple[str, ...]
    cautions: tuple[str, ...]
    alternatives: tuple[str, ...]
    finishing: bool = False  # a finishing pass comes after `rung`


def next_step(state: PanelState, *, limits: Limits, ladder: Sequence[Rung]) -> Advice:
    """Recommend the next step.

    Parameters
    ----------
    state : PanelState
        The panel as it is known.
    limits : Limits
        What was agreed, or the shop's usual aim.
    ladder : sequence of Rung
        Correction steps, least aggressive first; the first is the one to finish down with.
    """
    if state.before is None:
        return _advice(state, "inspect", [INSPECT])
    if state.done and state.after is None:
        return _advice(state, "wipe and photograph", [WIPE], measured=words_of(state.before))
    now = state.after or state.before
    if not now.calibrated:
        return _advice(state, "give the scale", [NO_SCALE], measured=words_of(now))
    bare = now if _finished(state, limits, ladder) else without_trails(now, limits)
    verdict = verdict_but_trails(now, bare, limits)
    if verdict == "undecided" and bare is now:
        return _more_photographs(state, now, limits)
    if verdict != "not reached":
        return _finish_or_stop(state, now, bare, limits, ladder)
    if not state.budget.known:
        return _advice(state, "read film thickness", [NO_READINGS], measured=words_of(now))
    return _climb(state, now, limits, ladder)


def _climb(state: PanelState, now: Condition, limits: Limits, ladder: Sequence[Rung]) -> Advice:
    """Go up the ladder from the gentlest step to the first that is untried, unjudged, or good enough."""
    why = [f"The panel is above {limits.for_marks()}: {against(now, limits)}."]
    if now.trail is not None and has_trails(now, limits):
        why.append(f"Of that, {now.trail.value:.3g} mm/cm² are buffer trails; finishing down clears those.")
    for rung in ladder:
        tried = [trial for trial in state.trials if trial.rung == rung.key]
        found = [trial.found for trial in tried if trial.found is not None]
        if rung.key in state.done:
            why.append(f"{rung.name}: done on the whole panel, not enough.")
            continue
        if not tried:
            why.append(f"{rung.name} is the gentlest step not yet tried on this panel.")
            return _if_affordable(state, "try on a spot", rung, why, now, ladder)
        if not found:
            why.append(
                f"{rung.name} was tried on a spot, and that spot is not yet wiped, photographed and measured."
            )
            return _advice(state, "wipe and photograph", why, measured=words_of(now))
        # what the finishing step itself leaves, no finishing pass clears
        last = found[-1] if rung is ladder[0] else without_trails(found[-1], limits)
        trails = last is not found[-1]
        verdict = verdict_but_trails(found[-1], last, limits)
        if verdict == "undecided" and not trails:
            why.append(f"{rung.name} was tried, and its photographs do not settle whether it is enough.")
            return _more_photographs(state, last, limits, why)
        if verdict != "not reached":
            may = "reached" if verdict == "reached" else "may have reached"
            but = ", but for buffer trails, which a finishing pass clears" if trails else ""
            why.append(f"{rung.name} {may} it on the test spot: {against(last, limits)}{but}.")
            return _if_affordable(state, "correct the panel", rung, why, found[-1], ladder, trails=trails)
        why.append(f"{rung.name} did not reach it on the test spot: {against(last, limits)}.")
    why.append("There is no stronger step on the ladder.")
    return _advice(state, "stop: no stronger step", why, measured=words_of(now), alternatives=ALTERNATIVES)


def _if_affordable(
    state: PanelState,
    action: Action,
    rung: Rung,
    why: list[str],
    now: Condition,
    ladder: Sequence[Rung],
    *,
    trails: bool = False,
) -> Advice:
    finishing = [(ladder[0], ladder[0].passes)] if rung.leaves_haze or trails else []
    wanted = [(rung, rung.passes), *finishing]
    taken = sum(step.removal_um.high * passes for step, passes in wanted)
    if not state.budget.allows(*wanted):
        why.append(
            f"It may take {taken:g} µm{' with finishing down' if finishing else ''}, and the clear coat "
            f"allows {state.budget.left_um:.1f} µm. {state.budget.assumption}"
        )
        return _advice(state, "stop: clear coat", why, measured=words_of(now), alternatives=ALTERNATIVES)
    why.append(f"It may take up to {taken:g} µm of the {state.budget.left_um:.1f} µm that are left.")
    return _advice(state, action, why, measured=words_of(now), rung=rung, finishing=bool(finishing))


def _finished(state: PanelState, limits: Limits, ladder: Sequence[Rung]) -> bool:
    """Whether a finishing pass was the last that was tried: the trails that it left, no other one clears."""
    if state.done:
        return state.done[-1] == ladder[0].key
    found = [trial.found for trial in state.trials if trial.rung == ladder[0].key]
    return any(one is not None and without_trails(one, limits) is not one for one in found)


def _finish_or_stop(
    state: PanelState, now: Condition, bare: Condition, limits: Limits, ladder: Sequence[Rung]
) -> Advice:
    reasons = _reasons_to_finish(state, now, bare, limits, ladder)
    settled = verdict_on(bare, limits) == "reached"
    but = "Apart from buffer trails, the" if bare is not now else "The"
    why = [f"{but} marks are within {limits.for_marks()}: {against(bare, limits)}."]
    if not settled:
        why = [
            f"Buffer trails come first: apart from them the marks are at {against(bare, limits)}, but some "
            "of their lines pass for swirl marks. Photographs after a finishing pass settle whether the "
            f"rest is within {limits.for_marks()}."
        ]
    if not reasons:
        return _advice(state, "stop: good enough", why, measured=words_of(now))
    why += reasons
    if not state.budget.known:
        why.append("A finishing pass takes clear coat too, and how much there is was not measured.")
        return _advice(state, "read film thickness", why, measured=words_of(now))
    if ladder[0].key in state.done[-1:]:
        why.append("One finishing pass was done and was not enough.")
    trials = [trial for trial in state.trials if trial.rung == ladder[0].key]
    if trials and not state.done and all(trial.found is None for trial in trials):
        why.append(f"{ladder[0].name} was tried on a spot: wipe that spot, photograph it, measure.")
        return _advice(state, "wipe and photograph", why, measured=words_of(now))
    action: Action = "finish down" if state.done or trials else "try on a spot"
    return _if_affordable(state, action, ladder[0], why, now, ladder)


def _reasons_to_finish(
    state: PanelState, now: Condition, bare: Condition, limits: Limits, ladder: Sequence[Rung]
) -> list[str]:
    reasons = []
    last = next((rung for rung in ladder if rung.key in state.done[-1:]), None)
    if last is not None and last.leaves_haze:
        reasons.append(f"{last.name} leaves haze: finish down after it.")
    if above(now.haze, limits.haze):
        reasons.append(f"Haze is above {limits.name(['haze'])}: a finishing pass clears it.")
    before = state.before.haze if state.before is not None else None
    if state.done and now.haze is not None and before is not None and now.haze.low > before.high:
        reasons.append(
            f"Haze rose from {before.value:.3g} to {now.haze.value:.3g} since the first inspection: a "
            "finishing pass clears it."
        )
    if now.trail is not None and (bare is not now or has_trails(now, limits)):
        are = "are" if has_trails(now, limits) else "seem to be"
        reasons.append(
            f"Buffer trails {are} above {limits.name(['trail'])}: {now.trail.words('mm/cm²')} against at "
            f"most {limits.trail_mm_per_cm2:g}. A finishing pass clears them; a heavier step leaves more."
        )
    return reasons


def _more_photographs(
    state: PanelState, found: Condition, limits: Limits, why: list[str] | None = None
) -> Advice:
    open_ones = {name: pair for name, pair in judged(found, limits).items() if judge(*pair) == "undecided"}
    aim = limits.name(list(open_ones))
    said = [
        f"{_NAMES[name]} is {figure.words(_UNITS[name])}, against at most {limit:g}."
        for name, (figure, limit) in open_ones.items()
    ]
    if any(math.isinf(figure.high) for figure, _ in open_ones.values()):
        said.append(f"One photograph alone cannot show whether that is within {aim}.")
    else:
        said.append(f"The range reaches across {aim}.")
    said.append("Photograph more spots (at least three), or measure the repeatability of your set-up once.")
    return _advice(state, "photograph more spots", [*(why or []), " ".join(said)], measured=words_of(found))


def _advice(
    state: PanelState,
    action: Action,
    why: Sequence[str],
    *,
    measured: tuple[str, ...] = (),
    rung: Rung | None = None,
    alternatives: tuple[str, ...] = (),
    finishing: bool = False,
) -> Advice:
    remarks = list(state.budget.remarks)
    if state.catches_nail:
        remarks.append(
            "A scratch that a fingernail catches is usually too deep to polish out safely: soften "
            "it or leave it."
        )
    return Advice(
        panel=state.panel,
        action=action,
        rung=rung,
        passes=0 if rung is None else rung.passes,
        why=tuple(why),
        measured=measured,
        cautions=(*remarks, *(CAUTIONS if rung is not None else ())),
        alternatives=alternatives,
        finishing=finishing,
    )
