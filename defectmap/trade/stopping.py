"""Stops that say more than that: a worse result asks for its causes, an impossible target for another one."""

from __future__ import annotations

import math
from collections.abc import Sequence

from defectmap.trade.advice import Advice, PanelState, advice, panels_counted
from defectmap.trade.budget import ALTERNATIVES
from defectmap.trade.condition import Condition, measured
from defectmap.trade.targets import Limits
from defectmap.trade.worse import CAUSES, Worse
from defectmap.words.remark import Remark, Value


def stopped_by(
    state: PanelState, worse: Sequence[Worse], *, now: Condition, than: Condition, why: Sequence[Remark] = ()
) -> Advice:
    """Stop because polishing made it worse: say so first, and ask for the likely causes."""
    said = []
    for name in worse:
        figures = (now.density, than.density) if name == "density" else (now.haze, than.haze)
        after, before = figures
        if after is None or before is None:
            continue
        percent = math.inf if before.value == 0 else 100 * (after.value - before.value) / before.value
        values = {"before": before.value, "after": after.value, "percent": percent}
        said.append(Remark(code=f"worse {name}", values=values))
    return advice(
        state,
        "stop: worse than before",
        [*said, Remark(code="no harder step after worse"), *why],
        measured=measured(now),
        questions=tuple(Remark(code=f"cause {cause}") for cause in CAUSES),
    )


def out_of_reach(state: PanelState, now: Condition, limits: Limits) -> Advice:
    """Stop because the target cannot be reached, and say what the shop has reached."""
    why = [Remark(code=f"out of reach {name}", values=values) for name, values in limits.out_of_reach.items()]
    reachable = state.reachable
    if reachable is None:
        why.append(Remark(code="reachable unknown"))
    else:
        taken = panels_counted(reachable.panels)
        values: dict[str, Value] = {"density": reachable.density_mm_per_cm2, "panels": taken}
        why.append(Remark(code="reachable density", values=values))
        if reachable.haze is not None:
            values = {"haze": reachable.haze, "panels": taken}
            why.append(Remark(code="reachable haze", values=values))
    return advice(state, "stop: target out of reach", why, measured=measured(now), alternatives=ALTERNATIVES)
