"""What a panel is decides what may be offered on it: paint, material, repaint, fresh paint.

Common practice, no source: matt, satin, protective film and wrap are never polished; plastic, repaints and
single-stage paint get the gentler part of the ladder and no rotary; new paint is left to harden; where nobody
knows what the paint is, that is found out first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from defectmap.trade.facts import PanelRecord
from defectmap.trade.stages import NEVER_POLISHED
from defectmap.trade.table_forms import Rung
from defectmap.trade.tables import TradeTables
from defectmap.words.remark import Remark

PAINTS = ("clear coat", "single stage", "matt", "satin", "film", "wrap", "unknown")
NO_GAUGE = ("plastic", "composite")  # a magnetic or eddy-current gauge reads nothing on these
_CUTS = ("finishing", "medium", "heavy")

Polishing = Literal["allowed", "never", "not yet", "ask first"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """What may be done to one panel."""

    polishing: Polishing = "allowed"
    strongest: str = "heavy"
    rotary: bool = True
    lifetime_um: float | None = None  # None leaves it to the film table
    why: tuple[Remark, ...] = ()  # why polishing is not allowed, or not yet
    cautions: tuple[Remark, ...] = ()

    def offers(self, rung: Rung) -> bool:
        """Whether this correction step may be offered here."""
        return (
            self.polishing == "allowed"
            and _CUTS.index(rung.cut) <= _CUTS.index(self.strongest)
            and (self.rotary or rung.machine != "rotary")
        )

    def ladder(self, ladder: Sequence[Rung]) -> tuple[Rung, ...]:
        """The part of the ladder that may be offered here; nothing where no step of it finishes down."""
        offered = tuple(rung for rung in ladder if self.offers(rung))
        return offered if offered and offered[0].cut == _CUTS[0] else ()

    def gentlest(self, ladder: Sequence[Rung]) -> Rung:
        """The least that any step takes here; of the whole ladder where none of it may be offered."""
        return next(iter(self.ladder(ladder)), ladder[0])


def paint_of(panel: PanelRecord, vehicle_paint: str) -> str:
    """Paint of a panel: its own where it differs, else the vehicle's."""
    return panel.paint or vehicle_paint


def surface_of(panel: PanelRecord, vehicle_paint: str, tables: TradeTables, *, today: date) -> Surface:
    """What may be done to a panel; the strictest of all that is known about it counts.

    Parameters
    ----------
    vehicle_paint : str
        One of `PAINTS`.
    today : date
        For new paint, which is not polished before it is hard.
    """
    paint = paint_of(panel, vehicle_paint)
    rows = {row.key: row for row in tables.surface}
    known = [rows[key] for key in _kinds_of(panel, paint) if key in rows]
    lifetimes = [row.lifetime_um for row in known if row.polish]
    cautions = tuple(Remark(code=f"on {row.key}") for row in known if row.key != "clear coat")
    if paint in NEVER_POLISHED or any(not row.polish for row in known):
        why = Remark(code="never polished", values={"paint": paint})
        return Surface(polishing="never", why=(why,), cautions=cautions)
    hard_on = _hard_on(panel, tables.film.fresh_days)
    if hard_on is not None and hard_on > today:
        values = {"painted_on": str(panel.painted_on), "hard_on": hard_on.isoformat()}
        why = Remark(code="fresh paint", values={**values, "days": tables.film.fresh_days})
        return Surface(polishing="not yet", why=(why,), cautions=cautions)
    if paint == "unknown":
        why = Remark(code="paint unknown")
        return Surface(polishing="ask first", why=(why,), cautions=cautions)
    return Surface(
        strongest=min((row.strongest for row in known), key=_CUTS.index, default="heavy"),
        rotary=all(row.rotary for row in known),
        lifetime_um=min(lifetimes, default=None),
        cautions=cautions,
    )


def kinds_alike(panel: PanelRecord, vehicle_paint: str) -> tuple[object, ...]:
    """What two panels must share for a test spot on one to settle a step for the other."""
    metal = panel.material in ("steel", "aluminium", "unknown")
    return (paint_of(panel, vehicle_paint), "metal" if metal else panel.material, panel.repainted == "yes")


def _kinds_of(panel: PanelRecord, paint: str) -> list[str]:
    return [paint, panel.material, *(["repaint"] if panel.repainted == "yes" or panel.painted_on else [])]


def _hard_on(panel: PanelRecord, days: float) -> date | None:
    if panel.painted_on is None:
        return None
    return date.fromisoformat(panel.painted_on) + timedelta(days=days)
