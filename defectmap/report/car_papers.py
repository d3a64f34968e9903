"""What the papers of a job say: intake sheet, quote, invoice, hand-over sheet. Drawn by `car_sheets`."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, cast

from defectmap.errors import JobError
from defectmap.record.advise import PanelAdvice
from defectmap.record.agreed import target_words
from defectmap.record.overview import overview
from defectmap.record.results import advise, tables_of
from defectmap.record.shop_style import Shop, shop_of
from defectmap.record.shop_tables import put_on
from defectmap.record.signatures import pictures_allowed, signature_picture, signatures_of
from defectmap.record.vehicles import keeper_of, vehicle_of
from defectmap.report.car_amounts import Known, invoice, quoted, spent_or_thin
from defectmap.report.care_lines import care_lines
from defectmap.report.damage_lines import damage_lines
from defectmap.report.paper_content import PAPER_KINDS, CarPaper, PaperKind
from defectmap.report.work import step_entries, why_left
from defectmap.trade.care import protection_of, two_times
from defectmap.trade.facts import KeeperRecord
from defectmap.words.remark import Remark
from defectmap.words.trade_words import told_all
from defectmap.words.writer import Writer

if TYPE_CHECKING:
    from defectmap.record.overview import JobOverview
    from defectmap.record.store import Store


def car_paper(
    store: Store,
    reference: str,
    kind: str,
    *,
    day: date,
    number: str = "",
    protection: str | None = None,
    feel: str | None = None,
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
        Key of the protection. If not given, a quote reckons with a sealant, and a hand-over sheet with the
        product that was put on, where that is a known one.
    feel : str, optional
        Of the washed paint, for a quote; the usual one if not given.

    Raises
    ------
    JobError
        There is no such paper.
    NotInRecord
        There is no such job.
    """
    if kind not in PAPER_KINDS:
        raise JobError(f"{kind!r} is not a paper; use one of: {', '.join(PAPER_KINDS)}.")
    shop = shop_of(store)
    known = Known(
        store=store,
        look=overview(store, reference),
        states=advise(store, reference),
        tables=tables_of(store),
        writer=Writer(shop.style),
    )
    base = _head(known, cast(PaperKind, kind), shop, day=day, number=number)
    if kind == "intake":
        return _intake(known, base)
    if kind == "quote":
        return quoted(known, base, day=day, protection=protection, feel=feel)
    if kind == "invoice":
        return invoice(known, base)
    return _hand_over(known, base, protection)


def _hand_over(known: Known, base: CarPaper, protection: str | None) -> CarPaper:
    writer, tables, reference = known.writer, known.tables, known.reference
    steps = step_entries([panel.history for panel in known.look.panels], tables, writer=writer)
    finished = [one for one in known.states if one.after is not None or spent_or_thin(one, tables)]
    return replace(
        base,
        damage=tuple(one for one in damage_lines(known.store, reference, writer=writer) if one.stays),
        panels=_films(known),
        agreed=_agreed(known.look, writer),
        work=tuple((one.when, one.panels, one.what, one.takes) for one in steps),
        left=tuple((writer.term(one.advice.panel), _left(one, known)) for one in finished),
        care=care_lines(known.store, reference, writer=writer),
        sentences=_care_sentences(known, protection),
        signature=signature_picture(known.store, reference, "hand-over"),
        signed=_signed(known, "hand-over"),
    )


def _head(known: Known, kind: PaperKind, shop: Shop, *, day: date, number: str) -> CarPaper:
    writer, job = known.writer, known.look.job
    titles: dict[PaperKind, str] = {
        "intake": writer.tell("Intake"),
        "quote": writer.tell("Quote"),
        "invoice": writer.tell("Invoice"),
        "hand-over": writer.tell("Hand-over"),
    }
    car = vehicle_of(known.store, job)
    keeper = KeeperRecord() if car is None else keeper_of(known.store, car.name) or KeeperRecord()
    paint = "" if job.paint == "unknown" else writer.term(job.paint)
    said = [car.name if car else "", job.vehicle or writer.term(job.kind), writer.term(job.colour), paint]
    return CarPaper(
        kind=kind,
        title=f"{titles[kind]} {job.reference}",
        day=writer.day(day),
        number=number,
        shop=shop.name or None,
        mark=shop.mark,
        car=tuple(dict.fromkeys(filter(None, said))),
        keeper=tuple(filter(None, (keeper.name or job.customer, keeper.contact, keeper.plate))),
        plan=job.kind,
    )


def _intake(known: Known, base: CarPaper) -> CarPaper:
    writer = known.writer
    consent = {
        None: writer.tell("Pictures of this car, without plate or name, may be shown:  yes ☐   no ☐"),
        True: writer.tell("The customer agreed that pictures may be shown, without plate or name."),
        False: writer.tell("The customer does not want pictures to be shown."),
    }[pictures_allowed(known.store, known.reference)]
    grows = writer.tell("Clear coat does not grow back: what the thickness does not allow is left, and said.")
    return replace(
        base,
        panels=_panels(known),
        damage=damage_lines(known.store, known.reference, writer=writer),
        agreed=_agreed(known.look, writer),
        consent=consent,
        signature=signature_picture(known.store, known.reference, "intake"),
        signed=_signed(known, "intake"),
        sentences=(grows,),
    )


def _left(state: PanelAdvice, known: Known) -> str:
    """The marks that are left by the last photographs, and why."""
    why, found = why_left(state, known.tables, writer=known.writer), state.after
    if found is None or not found.calibrated:
        return why
    marks = known.writer.tell("{density:.1f density} of marks", density=found.density.value)
    if found.longest_scratch is not None:
        length = found.longest_scratch.value
        marks += known.writer.tell(", longest scratch {length:.0f length}", length=length)
    return f"{marks}. {why}"


def _signed(known: Known, what: str) -> str:
    """Who signed it and when; nothing where nobody did."""
    found = [one for one in signatures_of(known.store, known.reference) if one.what == what and one.given]
    if not found:
        return ""
    newest = found[-1]
    words = f"{newest.signed_by}, {known.writer.day(newest.at)}"
    on_paper = known.writer.tell("on paper")
    return f"{words}, {on_paper}" if newest.on_paper else words


def _agreed(look: JobOverview, writer: Writer) -> str:
    words = target_words(look.job.target, writer=writer)
    return words[0].upper() + words[1:] + "."


def _panels(known: Known) -> tuple[tuple[str, ...], ...]:
    rows, writer = [], known.writer
    for state, panel in zip(known.states, known.look.panels, strict=True):
        own = panel.history.panel
        said = [writer.term(word) for word in (own.material, own.paint) if word and word != "unknown"]
        if own.repainted == "yes":
            said.append(writer.tell("repainted"))
        if own.painted_on:
            said.append(writer.tell("painted on {day}", day=writer.day(own.painted_on)))
        if own.catches_nail:
            said.append(writer.tell("a scratch that catches the nail"))
        thinnest = state.thickness.minimum_um
        film = writer.film(thinnest) if thinnest is not None else writer.tell("not measured")
        rows.append((writer.term(own.name), ", ".join(said) or "–", film))
    return tuple(rows)


def _films(known: Known) -> tuple[tuple[str, ...], ...]:
    """Panel, thinnest reading, and what came off by the gauge and as the steps estimate it."""
    rows, writer = [], known.writer
    for state in known.states:
        by_gauge = [
            writer.tell(
                "{removed:film number} ± {doubt:film} ({place})",
                removed=one.removed_um,
                doubt=one.uncertainty_um,
                place=writer.term(one.place),
            )
            for one in state.removal.places
        ]
        taken = state.removal.estimated_um
        steps = writer.films(taken.low, taken.high) if taken.high else ""
        if state.thickness.minimum_um is not None or taken.high:
            thinnest = writer.film(state.thickness.minimum_um)
            rows.append((writer.term(state.advice.panel), thinnest, ", ".join(by_gauge), steps))
    return tuple(rows)


def _care_sentences(known: Known, protection: str | None) -> tuple[str, ...]:
    """How long it stays dry and unwashed, by what was put on; no times where the product is not known."""
    steps = [step for panel in known.look.panels for step in panel.history.steps if step.kind == "protect"]
    if protection is None and not steps:
        return ()
    kind = put_on(steps, known.tables) if protection is None else protection_of(protection, known.tables)
    times = Remark(code="label unknown") if kind is None else two_times(kind)
    return told_all([times, Remark(code="wash by hand")], audience="customer", writer=known.writer)
