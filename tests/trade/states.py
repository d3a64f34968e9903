"""States of a panel for the tests of advice, and what is advised in them."""

from __future__ import annotations

from defectmap.trade.advice import Advice, PanelState, Rules
from defectmap.trade.budget import Budget
from defectmap.trade.condition import Condition, Trial
from defectmap.trade.judging import Estimate
from defectmap.trade.next_step import next_step
from defectmap.trade.table_forms import Range
from defectmap.trade.tables import load_tables
from defectmap.trade.targets import Limits
from defectmap.words.remark import Remark

LADDER = load_tables().ladder
KEYS = [rung.key for rung in LADDER]
EFFECT = load_tables().effect
LIMITS = Limits(density_mm_per_cm2=3.0, haze=0.1, trail_mm_per_cm2=0.5)
FINISHING = "finish"


def about(value: float, half: float = 0.0) -> Estimate:
    return Estimate(value=value, low=max(0.0, value - half), high=value + half, photographs=3)


def condition(
    density: float,
    half: float = 0.1,
    *,
    haze: float = 0.02,
    trail: float = 0.0,
    trail_half: float = 0.0,
    **more: object,
) -> Condition:
    """A panel with that density of marks, of which `trail` are buffer trails."""
    lasting = about(max(0.0, density - trail), half)
    return Condition(
        density=about(density, half),
        haze=about(haze),
        trail=about(trail, trail_half),
        lasting=lasting,
        **more,  # type: ignore[arg-type]
    )


def budget(left_um: float = 12.0, *, known: bool = True) -> Budget:
    return Budget(
        panel="bonnet",
        known=known,
        clear_um=Range(low=35, high=50),
        keep_um=20,
        lifetime_um=12,
        spent_um=Range(low=0, high=0),
        left_um=left_um,
        assumption=Remark(code="not measured"),
        remarks=(),
    )


def state(**given: object) -> PanelState:
    values = {
        "panel": "bonnet",
        "before": condition(15),
        "trials": (),
        "done": (),
        "after": None,
        "budget": budget(),
    }
    return PanelState(**{**values, **given})  # type: ignore[arg-type]


def advised(panel: PanelState, limits: Limits) -> Advice:
    return next_step(panel, Rules(limits=limits, ladder=LADDER, effect=EFFECT))


def tried(*pairs: tuple[str, float | None], half: float = 0.1) -> tuple[Trial, ...]:
    return tuple(
        Trial(rung=key, found=None if density is None else condition(density, half)) for key, density in pairs
    )
