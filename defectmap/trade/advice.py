"""The next step on a panel: least aggressive first, up one rung at a time, and a reason for each.

Rules (common practice, no source), in the order in which they are asked: what the panel is may forbid
polishing; nothing is judged before it is clean, photographed and wiped; a worse result stops everything; a
target that cannot be reached is called so; start with the gentlest step on a test spot, step up only when it
has not reached what was agreed; finish down after a step that leaves haze, and where buffer trails are left;
stop when the target is reached, when the clear coat allows no more, or at the top; nothing after protection.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal, get_args

from defectmap.trade.budget import Budget
from defectmap.trade.condition import Condition, Trial
from defectmap.trade.surface import Surface
from defectmap.trade.table_forms import Effect, Rung
from defectmap.trade.targets import Limits
from defectmap.words.remark import Remark, Value

Step = Literal[
    "inspect",
    "read film thickness",
    "read that place again",
    "say what the paint is",
    "try on a spot",
    "wipe and photograph",
    "photograph more spots",
    "give the scale",
    "correct the panel",
    "finish down",
]
Stop = Literal[
    "stop: good enough",
    "stop: worse than before",
    "stop: target out of reach",
    "stop: clear coat",
    "stop: no stronger step",
    "stop: never polished",
    "stop: fresh paint",
    "stop: protected",
]
Action = Step | Stop
STOPS: frozenset[Action] = frozenset(get_args(Stop))
CAUTIONS = tuple(
    Remark(code=f"caution {about}")
    for about in ("edges", "heat", "other paints", "body", "wipe", "lamp", "labels")
)


PAINTED_METAL = Surface()


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """A step that a test spot on a panel of the same paint and condition has settled."""

    rung: str
    on: str  # that panel
    found: Condition


@dataclass(frozen=True, slots=True, kw_only=True)
class Reachable:
    """What the shop has reached before on this paint."""

    density_mm_per_cm2: float
    haze: float | None
    panels: int


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
    surface: Surface = PAINTED_METAL
    previous: Condition | None = None  # measured between the last two of `done`
    films_aside: bool = False  # films that do not count, as other stages were photographed
    protected: bool = False  # protection was put on after the last correction
    proof_too_old: bool = False  # photographs after a wipe that are older than the last correction
    settled: Settled | None = None
    reachable: Reachable | None = None
    experience: Mapping[str, Remark] = field(default_factory=dict)  # by correction step, on this paint


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """What the state is held against."""

    limits: Limits  # what was agreed, or the shop's usual aim
    ladder: tuple[Rung, ...]  # least aggressive first; the first is the one to finish down with
    effect: Effect


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """What to do next and why; `rung` is None where no correction step is meant."""

    panel: str
    action: Action
    rung: Rung | None
    sets: int
    why: tuple[Remark, ...]
    measured: tuple[Remark, ...]
    cautions: tuple[Remark, ...]
    alternatives: tuple[Remark, ...]
    finish: Rung | None = None  # the step to finish down with after `rung`, where that is needed
    questions: tuple[Remark, ...] = ()  # what to look for, where something went wrong

    @property
    def stops(self) -> bool:
        """Whether nothing more is to be done on the panel as things stand."""
        return self.action in STOPS


def panels_counted(number: int) -> Remark:
    """How many panels a figure rests on."""
    return Remark(code="one panel" if number == 1 else "panels", values={"number": number})


def advice(
    state: PanelState,
    action: Action,
    why: Sequence[Remark],
    *,
    measured: tuple[Remark, ...] = (),
    rung: Rung | None = None,
    alternatives: tuple[Remark, ...] = (),
    finish: Rung | None = None,
    questions: tuple[Remark, ...] = (),
) -> Advice:
    """Put advice together with the cautions that belong to it."""
    remarks = list(state.budget.remarks)
    if state.catches_nail:
        remarks.append(Remark(code="catches nail"))
    if state.reachable is not None and rung is not None:
        best = state.reachable
        values: dict[str, Value] = {"density": best.density_mm_per_cm2, "panels": panels_counted(best.panels)}
        remarks.append(Remark(code="reached before", values=values))
    return Advice(
        panel=state.panel,
        action=action,
        rung=rung,
        sets=0 if rung is None else rung.sets,
        why=tuple(why),
        measured=measured,
        cautions=(*remarks, *(CAUTIONS if rung is not None else ())),
        alternatives=alternatives,
        finish=finish,
        questions=questions,
    )
