"""The next step on a panel: least aggressive first, up one rung at a time, and a reason for each.

Rules (common practice, no source): start with the gentlest step on a test spot; wipe it and photograph it;
judge by the interval against what was agreed, or the shop's usual aim where nothing was; step up one rung
only when a gentler one has not reached it; finish down after a step that leaves haze; stop when the target
is reached, when the clear coat allows no more, or at the top.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from defectmap.job.budget import ALTERNATIVES, Budget
from defectmap.job.judging import Estimate, Verdict, judge
from defectmap.job.limits import Limited, Limits
from defectmap.job.tables import Rung

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
class Condition:
    """What was measured at one stage; figures that were not measured are None."""

    density: Estimate
    haze: Estimate | None = None
    trail: Estimate | None = None
    longest_scratch: Estimate | None = None
    calibrated: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """One step that was tried on a spot; `found` is None until it is wiped, photographed and measured."""

    rung: str
    found: Condition | None


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
        return _advice(state, "wipe and photograph", [WIPE], measured=_measured(state.before))
    now = state.after or state.before
    if not now.calibrated:
        return _advice(state, "give the scale", [NO_SCALE], measured=_measured(now))
    verdict = _verdict(now, limits)
    if verdict == "undecided":
        return _more_photographs(state, now, limits)
    if verdict == "reached":
        return _finish_or_stop(state, now, limits, ladder)
    if not state.budget.known:
        return _advice(state, "read film thickness", [NO_READINGS], measured=_measured(now))
    return _climb(state, now, limits, ladder)


def _climb(state: PanelState, now: Condition, limits: Limits, ladder: Sequence[Rung]) -> Advice:
    """Go up the ladder from the gentlest step to the first that is untried, unjudged, or good enough."""
    why = [f"The panel is above {limits.for_marks()}: {_against(now, limits)}."]
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
            return _advice(state, "wipe and photograph", why, measured=_measured(now))
        last = found[-1]
        verdict = _verdict(last, limits)
        if verdict == "undecided":
            why.append(f"{rung.name} was tried, and its photographs do not settle whether it is enough.")
            return _more_photographs(state, last, limits, why)
        if verdict == "reached":
            why.append(f"{rung.name} reached it on the test spot: {_against(last, limits)}.")
            return _if_affordable(state, "correct the panel", rung, why, last, ladder)
        why.append(f"{rung.name} did not reach it on the test spot: {_against(last, limits)}.")
    why.append("There is no stronger step on the ladder.")
    return _advice(state, "stop: no stronger step", why, measured=_measured(now), alternatives=ALTERNATIVES)


def _if_affordable(
    state: PanelState, action: Action, rung: Rung, why: list[str], now: Condition, ladder: Sequence[Rung]
) -> Advice:
    finishing = [(ladder[0], ladder[0].passes)] if rung.leaves_haze else []
    wanted = [(rung, rung.passes), *finishing]
    taken = sum(step.removal_um.high * passes for step, passes in wanted)
    if not state.budget.allows(*wanted):
        why.append(
            f"It may take {taken:g} µm{' with finishing down' if finishing else ''}, and the clear coat "
            f"allows {state.budget.left_um:.1f} µm. {state.budget.assumption}"
        )
        return _advice(state, "stop: clear coat", why, measured=_measured(now), alternatives=ALTERNATIVES)
    why.append(f"It may take up to {taken:g} µm of the {state.budget.left_um:.1f} µm that are left.")
    return _advice(state, action, why, measured=_measured(now), rung=rung)


def _finish_or_stop(state: PanelState, now: Condition, limits: Limits, ladder: Sequence[Rung]) -> Advice:
    reasons = _reasons_to_finish(state, now, limits, ladder)
    why = [f"The marks are within {limits.for_marks()}: {_against(now, limits)}."]
    if not reasons:
        return _advice(state, "stop: good enough", why, measured=_measured(now))
    why += reasons
    if not state.budget.known:
        why.append("A finishing pass takes clear coat too, and how much there is was not measured.")
        return _advice(state, "read film thickness", why, measured=_measured(now))
    if ladder[0].key in state.done[-1:]:
        why.append("One finishing pass was done and was not enough.")
    tried = ladder[0].key in {*state.done, *(trial.rung for trial in state.trials)}
    action: Action = "finish down" if state.done or tried else "try on a spot"
    return _if_affordable(state, action, ladder[0], why, now, ladder)


def _reasons_to_finish(
    state: PanelState, now: Condition, limits: Limits, ladder: Sequence[Rung]
) -> list[str]:
    reasons = []
    last = next((rung for rung in ladder if rung.key in state.done[-1:]), None)
    if last is not None and last.leaves_haze:
        reasons.append(f"{last.name} leaves haze: finish down after it.")
    if _above(now.haze, limits.haze):
        reasons.append(f"Haze is above {limits.name(['haze'])}: a finishing pass clears it.")
    before = state.before.haze if state.before is not None else None
    if state.done and now.haze is not None and before is not None and now.haze.low > before.high:
        reasons.append(
            f"Haze rose from {before.value:.3g} to {now.haze.value:.3g} since the first inspection: a "
            "finishing pass clears it."
        )
    if _above(now.trail, limits.trail_mm_per_cm2):
        reasons.append(f"Buffer trails are above {limits.name(['trail'])}: a finishing pass clears them.")
    return reasons


def _above(found: Estimate | None, limit: float | None) -> bool:
    return found is not None and limit is not None and judge(found, limit) == "not reached"


def _judged(found: Condition, limits: Limits) -> dict[Limited, tuple[Estimate, float]]:
    """The figures that decide, each with its limit."""
    judged: dict[Limited, tuple[Estimate, float]] = {"density": (found.density, limits.density_mm_per_cm2)}
    if limits.longest_scratch_mm is not None and found.longest_scratch is not None:
        judged["longest scratch"] = (found.longest_scratch, limits.longest_scratch_mm)
    return judged


def _verdict(found: Condition, limits: Limits) -> Verdict:
    verdicts = [judge(figure, limit) for figure, limit in _judged(found, limits).values()]
    for verdict in ("not reached", "undecided"):  # the worse one counts
        if verdict in verdicts:
            return verdict
    return "reached"


def _more_photographs(
    state: PanelState, found: Condition, limits: Limits, why: list[str] | None = None
) -> Advice:
    open_ones = {name: pair for name, pair in _judged(found, limits).items() if judge(*pair) == "undecided"}
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
    return _advice(state, "photograph more spots", [*(why or []), " ".join(said)], measured=_measured(found))


def _against(found: Condition, limits: Limits) -> str:
    words = f"{found.density.words('mm/cm²')} against at most {limits.density_mm_per_cm2:g}"
    longest, limit = found.longest_scratch, limits.longest_scratch_mm
    if limit is not None and longest is not None:
        words += f", longest scratch {longest.value:.0f} mm against at most {limit:g}"
    return words


def _measured(found: Condition) -> tuple[str, ...]:
    unit = "mm/cm²" if found.calibrated else "(uncalibrated)"
    lines = [f"density of marks {found.density.words(unit)}"]
    if found.haze is not None:
        lines.append(f"haze {found.haze.words()}")
    if found.trail is not None:
        lines.append(f"buffer trails {found.trail.words(unit)}")
    if found.longest_scratch is not None:
        lines.append(
            f"longest scratch {found.longest_scratch.value:.0f} {'mm' if found.calibrated else 'px'}"
        )
    return tuple(lines)


def _advice(
    state: PanelState,
    action: Action,
    why: Sequence[str],
    *,
    measured: tuple[str, ...] = (),
    rung: Rung | None = None,
    alternatives: tuple[str, ...] = (),
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
    )
