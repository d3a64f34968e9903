"""What a quote and an invoice list: the work with its amounts, and what is not in it, and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any, cast

from defectmap.record.advise import PanelAdvice
from defectmap.report.damage_lines import damage_lines
from defectmap.report.paper_content import CarPaper
from defectmap.report.work import why_left
from defectmap.trade.plan import USUAL_FEEL, Wanted, advised_corrections, not_settled, plan_job
from defectmap.trade.quoting import WorkLine, quote
from defectmap.words.trade_words import told
from defectmap.words.writer import Writer

if TYPE_CHECKING:
    from defectmap.record.overview import JobOverview
    from defectmap.record.store import Store
    from defectmap.trade.tables import TradeTables

USUAL_PROTECTION = "sealant"  # that a quote reckons with until another one is named


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What the papers of one job are made from."""

    store: Store
    look: JobOverview
    states: Sequence[PanelAdvice]
    tables: TradeTables
    writer: Writer

    @property
    def reference(self) -> str:
        """Of the job."""
        return self.look.job.reference


def quoted(known: Known, base: CarPaper, *, day: date, protection: str | None, feel: str | None) -> CarPaper:
    """The quote: the work that is advised now, what is not settled yet, and what is not corrected."""
    found = [state.advice for state in known.states]
    wanted = Wanted(
        feel=cast(Any, feel or USUAL_FEEL),
        months_since=0,
        corrections=advised_corrections(found),
        protection=protection or USUAL_PROTECTION,
        done_on=day,
        paint=known.look.job.paint,
    )
    panels = [panel.history.panel for panel in known.look.panels]
    plan = plan_job(panels, [state.budget for state in known.states], wanted, known.tables)
    return replace(base, quote=plan.quote, left=_not_corrected(known), sentences=tuple(_provisos(known)))


def invoice(known: Known, base: CarPaper) -> CarPaper:
    """The work by the minutes that were entered; what has none is named, and not charged."""
    work: list[WorkLine] = []
    untimed: list[WorkLine] = []
    corrected = set()
    names = {rung.key: rung.name for rung in known.tables.ladder}
    for panel in known.look.panels:
        name = panel.history.panel.name
        for step in panel.history.steps:
            detail = names.get(step.rung or "", step.rung or "") if step.kind == "correct" else step.product
            if step.kind == "correct" and step.spot is None:
                corrected.add(name)
            line = WorkLine(what=step.kind, panel=name, minutes=step.minutes or 0.0, detail=detail)
            (untimed if step.minutes is None else work).append(line)
    return replace(base, quote=quote(work, len(corrected), known.tables.rates), untimed=tuple(untimed))


def spent_or_thin(state: PanelAdvice, tables: TradeTables) -> bool:
    """Whether the readings of this panel allow not even the gentlest step."""
    gentlest = state.surface.gentlest(tables.ladder)
    return state.budget.read and not state.budget.allows((gentlest, gentlest.sets))


def _not_corrected(known: Known) -> tuple[tuple[str, str], ...]:
    """What cannot be corrected, and why: damage that stays, and panels that may not be polished."""
    writer, tables = known.writer, known.tables
    damage = [
        (writer.term(one.panel), f"{one.what}: {one.stays}")
        for one in damage_lines(known.store, known.reference, writer=writer)
        if one.stays
    ]
    stopped = [
        (state.advice.panel, told(state.advice.why[0], audience="customer", writer=writer))
        for state in known.states
        if state.advice.stops and state.advice.alternatives
    ]
    thin = [
        (state.advice.panel, why_left(state, tables, writer=writer))
        for state in known.states
        if spent_or_thin(state, tables) and state.advice.panel not in dict(stopped)
    ]
    return (*damage, *((writer.term(panel), why) for panel, why in (*stopped, *thin)))


def _provisos(known: Known) -> list[str]:
    """What the amount does not hold: steps that a test spot has still to settle, panels not looked at."""
    writer, found = known.writer, [state.advice for state in known.states]
    said = []
    if any(one.action == "try on a spot" for one in found):
        said.append(
            writer.tell(
                "Reckoned with the gentlest step. A test spot shows whether it is enough; a stronger one "
                "takes longer and is agreed first."
            )
        )
    open_ones = [writer.term(one.panel) for one in not_settled(found)]
    if open_ones:
        said.append(
            writer.tell(
                "Correction is not in this amount yet for {panels}: they have to be inspected and measured "
                "first.",
                panels=writer.listed(open_ones),
            )
        )
    said.append(writer.tell("The clear coat may limit what can be corrected; what is left is said."))
    return said
