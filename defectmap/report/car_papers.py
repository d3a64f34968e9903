"""What the papers of a job say: intake sheet, quote, invoice, hand-over sheet. Drawn by `car_sheets`."""

from __future__ import annotations

import base64
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, cast

from defectmap.errors import JobError
from defectmap.record.advise import PanelAdvice
from defectmap.record.agreed import target_words
from defectmap.record.care_dates import care_of
from defectmap.record.notes import setting
from defectmap.record.overview import overview
from defectmap.record.results import SHOP, advise, tables_of
from defectmap.record.signatures import pictures_allowed, signature_picture
from defectmap.record.vehicles import keeper_of, vehicle_of
from defectmap.report.damage_lines import damage_lines
from defectmap.report.paper_content import PAPER_KINDS, CarPaper, PaperKind
from defectmap.report.work import step_entries, why_left
from defectmap.trade.care import protection_of
from defectmap.trade.facts import KeeperRecord
from defectmap.trade.plan import JobPlan, Wanted, plan_job
from defectmap.trade.quoting import Quote, WorkLine, quote
from defectmap.words.style import style_of
from defectmap.words.trade_words import CARE, told
from defectmap.words.writer import Writer

if TYPE_CHECKING:
    from defectmap.record.overview import JobOverview
    from defectmap.record.store import Store
    from defectmap.trade.tables import TradeTables


def car_paper(
    store: Store,
    reference: str,
    kind: str,
    *,
    day: date,
    number: str = "",
    protection: str | None = None,
) -> CarPaper:
    """Gather what a paper says.

    Parameters
    ----------
    kind : str
        One of `PAPER_KINDS`.
    day : date
        On the paper, and the hand-over from which care is counted.
    number : str, optional
        Of the quote or the invoice, as the shop's books have it.
    protection : str, optional
        Key of the protection; sealant if not given.

    Raises
    ------
    JobError
        There is no such paper.
    NotInRecord
        There is no such job.
    """
    if kind not in PAPER_KINDS:
        raise JobError(f"{kind!r} is not a paper; use one of: {', '.join(PAPER_KINDS)}.")
    shop = setting(store, SHOP, {})
    writer, tables, look = Writer(style_of(shop)), tables_of(store), overview(store, reference)
    states = advise(store, reference)
    base = _head(store, look, cast(PaperKind, kind), shop, writer=writer, day=day, number=number)
    if kind == "intake":
        return _intake(store, replace(base, panels=_panels(states, look, writer)), look, writer)
    if kind == "quote":
        plan = _plan(states, look, tables, protection or "sealant", day)
        return replace(base, quote=plan.quote, left=_not_corrected(store, reference, states, tables, writer))
    if kind == "invoice":
        return replace(base, quote=_invoice(look, tables))
    return _hand_over(store, base, look, states, tables=tables, writer=writer, protection=protection)


def _hand_over(
    store: Store,
    base: CarPaper,
    look: JobOverview,
    states: Sequence[PanelAdvice],
    *,
    tables: TradeTables,
    writer: Writer,
    protection: str | None,
) -> CarPaper:
    reference = look.job.reference
    steps = step_entries([panel.history for panel in look.panels], tables, writer=writer)
    finished = [one for one in states if one.after is not None or _spent_or_thin(one, tables)]
    return replace(
        base,
        damage=tuple(one for one in damage_lines(store, reference) if one.stays),
        panels=_films(states, writer),
        agreed=_agreed(look, writer),
        work=tuple((one.when, one.panels, one.what, one.takes) for one in steps),
        left=tuple((one.advice.panel, why_left(one, tables, writer=writer)) for one in finished),
        care=_care(store, reference, writer),
        sentences=_care_sentences(tables, protection, look, writer),
        signature=signature_picture(store, reference, "hand-over"),
    )


def _head(
    store: Store,
    look: JobOverview,
    kind: PaperKind,
    shop: Mapping[str, str],
    *,
    writer: Writer,
    day: date,
    number: str,
) -> CarPaper:
    titles: dict[PaperKind, str] = {
        "intake": writer.tell("Intake"),
        "quote": writer.tell("Quote"),
        "invoice": writer.tell("Invoice"),
        "hand-over": writer.tell("Hand-over"),
    }
    job, car = look.job, vehicle_of(store, look.job)
    keeper = KeeperRecord() if car is None else keeper_of(store, car.name) or KeeperRecord()
    said = [car.name if car else "", job.vehicle or job.kind, job.colour, job.paint]
    mark = shop.get("mark")
    return CarPaper(
        kind=kind,
        title=f"{titles[kind]} {job.reference}",
        day=writer.day(day),
        number=number,
        shop=shop.get("name") or None,
        mark=base64.b64decode(mark) if mark else None,
        car=tuple(dict.fromkeys(filter(None, said))),
        keeper=tuple(filter(None, (keeper.name or job.customer, keeper.contact, keeper.plate))),
        plan=job.kind,
    )


def _intake(store: Store, base: CarPaper, look: JobOverview, writer: Writer) -> CarPaper:
    reference = look.job.reference
    consent = {
        None: writer.tell("Pictures of this car, without plate or name, may be shown:  yes ☐   no ☐"),
        True: writer.tell("The customer agreed that pictures may be shown, without plate or name."),
        False: writer.tell("The customer does not want pictures to be shown."),
    }[pictures_allowed(store, reference)]
    grows = writer.tell("Clear coat does not grow back: what the thickness does not allow is left, and said.")
    return replace(
        base,
        damage=damage_lines(store, reference),
        agreed=_agreed(look, writer),
        consent=consent,
        signature=signature_picture(store, reference, "intake"),
        sentences=(grows,),
    )


def _agreed(look: JobOverview, writer: Writer) -> str:
    words = target_words(look.job.target, writer=writer)
    return words[0].upper() + words[1:] + "."


def _panels(states: Sequence[PanelAdvice], look: JobOverview, writer: Writer) -> tuple[tuple[str, ...], ...]:
    rows = []
    for state, panel in zip(states, look.panels, strict=True):
        own = panel.history.panel
        said = [own.material, own.paint, "repainted" if own.repainted == "yes" else ""]
        if own.painted_on:
            said.append(writer.tell("painted on {day}", day=writer.day(own.painted_on)))
        if own.catches_nail:
            said.append(writer.tell("a scratch that catches the nail"))
        what = ", ".join(word for word in said if word and word != "unknown")
        rows.append((own.name, what, writer.film(state.thickness.minimum_um)))
    return tuple(rows)


def _films(states: Sequence[PanelAdvice], writer: Writer) -> tuple[tuple[str, ...], ...]:
    """Panel, thinnest reading, and what came off by the gauge and as the steps estimate it."""
    rows = []
    for state in states:
        removal = state.removal
        by_gauge = [
            f"{writer.number(one.removed_um, 0)} ± {writer.number(one.uncertainty_um, 0)} µm ({one.place})"
            for one in removal.places
        ]
        estimated = removal.estimated_um
        steps = f"{estimated.low:g} to {estimated.high:g} µm" if estimated.high else ""
        if state.thickness.minimum_um is not None or estimated.high:
            rows.append(
                (state.advice.panel, writer.film(state.thickness.minimum_um), ", ".join(by_gauge), steps)
            )
    return tuple(rows)


def _plan(
    states: Sequence[PanelAdvice], look: JobOverview, tables: TradeTables, protection: str, day: date
) -> JobPlan:
    corrections = {}
    for state in states:
        rung = state.advice.rung
        if rung is not None:
            finish = [(tables.ladder[0], tables.ladder[0].sets)] if state.advice.finishing else []
            corrections[state.advice.panel] = [(rung, state.advice.sets), *finish]
    wanted = Wanted(
        feel="slightly rough",
        months_since=0,
        corrections=corrections,
        protection=protection,
        done_on=day,
        paint=look.job.paint,
    )
    panels = [panel.history.panel for panel in look.panels]
    return plan_job(panels, [state.budget for state in states], wanted, tables)


def _not_corrected(
    store: Store, reference: str, states: Sequence[PanelAdvice], tables: TradeTables, writer: Writer
) -> tuple[tuple[str, str], ...]:
    """What cannot be corrected, and why: damage that stays, and panels that may not be polished."""
    damage = [(one.panel, f"{one.what}: {one.stays}") for one in damage_lines(store, reference) if one.stays]
    stopped = [
        (state.advice.panel, told(state.advice.why[0], audience="customer", writer=writer))
        for state in states
        if state.advice.action.startswith("stop") and state.advice.alternatives
    ]
    thin = [
        (state.advice.panel, why_left(state, tables, writer=writer))
        for state in states
        if _spent_or_thin(state, tables) and state.advice.panel not in dict(stopped)
    ]
    return (*damage, *stopped, *thin)


def _spent_or_thin(state: PanelAdvice, tables: TradeTables) -> bool:
    """Whether the readings of this panel allow not even the gentlest step."""
    gentlest = tables.ladder[0]
    return state.budget.read and not state.budget.allows((gentlest, gentlest.sets))


def _invoice(look: JobOverview, tables: TradeTables) -> Quote:
    """The work by the minutes that were entered; what has none is not on the invoice."""
    work, corrected = [], set()
    names = {rung.key: rung.name for rung in tables.ladder}
    for panel in look.panels:
        for step in panel.history.steps:
            what = (
                f"correct: {names.get(step.rung or '', step.rung)}" if step.kind == "correct" else step.kind
            )
            if step.minutes is not None:
                work.append(WorkLine(what=what, panel=panel.history.panel.name, minutes=step.minutes))
            if step.kind == "correct" and step.spot is None:
                corrected.add(panel.history.panel.name)
    return quote(work, len(corrected), tables.rates)


def _care(store: Store, reference: str, writer: Writer) -> tuple[tuple[str, str], ...]:
    return tuple(
        (writer.day(one.day), ": ".join(filter(None, (one.words, writer.tell(CARE[one.kind])))))
        for one in care_of(store, reference=reference)
        if one.done_at is None
    )


def _care_sentences(
    tables: TradeTables, protection: str | None, look: JobOverview, writer: Writer
) -> tuple[str, ...]:
    protected = any(step.kind == "protect" for panel in look.panels for step in panel.history.steps)
    if protection is None and not protected:
        return ()
    kind = protection_of(protection or "sealant", tables)
    return (
        writer.tell(
            "{kind}: keep it dry for {hours:g} hours and do not wash it for {days:g} days. The label of the "
            "product comes first ({source}).",
            kind=kind.name.capitalize(),
            hours=kind.keep_dry_hours,
            days=kind.no_wash_days,
            source=kind.source,
        ),
        writer.tell(
            "Wash by hand with plenty of water, two buckets and a soft mitt; no brushes, no dry wiping."
        ),
    )
