"""A report of a job in the record: its kept comparisons, steps, readings and photographs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

from defectmap.errors import OldResult
from defectmap.pictures.crops import Centre
from defectmap.record.advise import PanelAdvice
from defectmap.record.comparisons import ComparisonRecord, latest_comparisons
from defectmap.record.damages import damages_of
from defectmap.record.intake import photographs_of
from defectmap.record.keeping import PhotoResult, results_of
from defectmap.record.overview import overview
from defectmap.record.results import advise, tables_of
from defectmap.record.shop_style import Shop, shop_of
from defectmap.record.store import Store
from defectmap.record.whole import SpotPair, film_of, spot_pairs
from defectmap.report.agreed_figures import agreed_entries
from defectmap.report.binding import Heading, assemble
from defectmap.report.content import PanelSection, PhotographEntry, PicturePair, Report
from defectmap.report.picture_pairs import picture_pair
from defectmap.report.privacy import Aliases, PrivacyChoice
from defectmap.report.sections import Record, panel_section
from defectmap.report.sources import photograph_entry, stage_words
from defectmap.report.work import damage_entries, film_entry, step_entries, why_left
from defectmap.trade.facts import JobRecord
from defectmap.trade.stages import BASELINE, PROOF
from defectmap.trade.tables import TradeTables
from defectmap.words.report_words import plain_words
from defectmap.words.trade_words import told_all
from defectmap.words.writer import Writer

WORKERS = 3  # each holds two photographs: 200 MB at 12 megapixels


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sources:
    """What the sections of a job are made from."""

    store: Store
    reference: str
    results: Sequence[PhotoResult]
    aliases: Aliases
    choice: PrivacyChoice
    centres: tuple[Centre, ...]  # what pictures are drawn about
    writer: Writer


def report_from_job(
    store: Store,
    reference: str,
    *,
    made_on: str,
    before: str = BASELINE,
    after: str = PROOF,
    choice: PrivacyChoice | None = None,
    close_ups: bool = True,
) -> Report:
    """Make the report of a job from what the record keeps; nothing is measured or compared anew.

    Parameters
    ----------
    store : Store
        The record.
    reference : str
        Of the job.
    made_on : str
        Day, ISO 8601.
    before, after : str
        Stages that were compared. Every panel that has photographs at one of them is in the report.
    choice : PrivacyChoice, optional
        What is shown beyond the figures, and the boxes to be made unreadable; nothing if not given.
    close_ups : bool
        False leaves those about the longest scratch out, which only the full version shows.

    Raises
    ------
    NotInRecord
        There is no such job.
    """
    privacy = choice or PrivacyChoice()
    shop = shop_of(store)
    writer = Writer(shop.style)
    look = overview(store, reference)
    tables = tables_of(store)
    states = {state.advice.panel: state for state in advise(store, reference)}
    centres: tuple[Centre, ...] = ("hotspot", "worst scratch") if close_ups else ("hotspot",)
    sources = _sources(store, reference, privacy, centres, writer)
    compared = latest_comparisons(store, reference, before=before, after=after)
    photographs = _photographs(sources, (before, after))
    measured = dict.fromkeys(entry.panel for entry in photographs)
    names = [name for name in states if plain_words(writer.term(name)) in measured]
    with ThreadPoolExecutor(WORKERS) as pool:  # decoding and cropping leave the interpreter free
        sections = list(
            pool.map(lambda name: _section(name, compared.get(name), sources, states[name], tables), names)
        )
    setups = {record.result.get("setup") for record in compared.values()}
    return assemble(
        _heading(shop, look.job, made_on, privacy, writer),
        sections,
        photographs,
        steps=step_entries([panel.history for panel in look.panels], tables, writer=writer),
        films=[film_entry(state, writer=writer) for state in states.values() if state.budget.read],
        film_assumptions=told_all(
            [s.budget.assumption for s in states.values() if s.budget.read],
            audience="customer",
            writer=writer,
        ),
        agreed=[
            entry
            for name in names
            for entry in agreed_entries(states[name], states[name].after, writer=writer)
        ],
        damage=damage_entries(damages_of(store, reference), writer=writer),
        writer=writer,
        setup=setups.pop() if len(setups) == 1 else None,
    )


def _heading(shop: Shop, job: JobRecord, made_on: str, choice: PrivacyChoice, writer: Writer) -> Heading:
    said = (job.vehicle or writer.term(job.kind), writer.term(job.colour))
    vehicle = ", ".join(plain_words(word) for word in said if word)
    return Heading(
        title=writer.tell("Paint before and after"),
        made_on=made_on,
        reference=plain_words(job.reference),
        customer=plain_words(job.customer) or None if choice.customer else None,
        vehicle=vehicle or None,
        shop=plain_words(shop.name) or None,
        mark=shop.mark,
    )


def _sources(
    store: Store, reference: str, choice: PrivacyChoice, centres: tuple[Centre, ...], writer: Writer
) -> _Sources:
    aliases = Aliases(choice)
    for photo in photographs_of(store, reference):
        place = writer.tell(
            "the photograph {stage} of {panel}",
            stage=stage_words(photo.stage, writer=writer),
            panel=plain_words(writer.term(photo.panel)),
        )
        aliases.add(photo.name, place)
    return _Sources(
        store=store,
        reference=reference,
        results=tuple(results_of(store, reference).values()),
        aliases=aliases,
        choice=choice,
        centres=centres,
        writer=writer,
    )


def _photographs(sources: _Sources, stages: Sequence[str]) -> list[PhotographEntry]:
    """Those of the stages, by panel and spot, in the order of the stages."""
    shown = [one for one in sources.results if one.photograph.stage in stages]
    spots = dict.fromkeys((one.photograph.panel, one.photograph.spot) for one in shown)
    place = {spot: index for index, spot in enumerate(spots)}
    shown.sort(
        key=lambda one: (place[one.photograph.panel, one.photograph.spot], stages.index(one.photograph.stage))
    )
    return [
        photograph_entry(
            one.record,
            panel=one.photograph.panel,
            spot=one.photograph.spot,
            stage=one.photograph.stage,
            aliases=sources.aliases,
            writer=sources.writer,
        )
        for one in shown
    ]


def _section(
    name: str, compared: ComparisonRecord | None, sources: _Sources, state: PanelAdvice, tables: TradeTables
) -> PanelSection:
    shown: dict[str, Any] = {
        "aliases": sources.aliases,
        "why_left": why_left(state, tables, writer=sources.writer),
        "writer": sources.writer,
    }
    if compared is None:
        return panel_section(name, _uncompared(name, sources), **shown)
    pairs = list(_pairs(name, compared, sources)) if compared.verdict != "no" else []
    return panel_section(name, compared.result, pairs=pairs, old=compared.old, **shown)


def _uncompared(name: str, sources: _Sources) -> Record:
    refused = [one.refused for one in sources.results if one.photograph.panel == name and one.refused]
    why = sources.writer.tell("It is photographed at one of the two stages only, or not compared yet.")
    return {"comparable": "no", "reasons": refused or [why]}


def _pairs(name: str, compared: ComparisonRecord, sources: _Sources) -> Iterator[PicturePair]:
    """Pictures of every spot whose two photographs are still in the job."""
    from defectmap.panel.photo.photograph import load

    for spot in spot_pairs(sources.store, sources.reference, compared):
        if spot.before.film:
            yield from _film_pairs(name, compared, spot, sources)
            continue
        photos = [
            load(sources.store.originals.read(one.sha256, name=one.name), name=one.name)
            for one in (spot.before.photograph, spot.after.photograph)
        ]
        where = _place(name, compared, spot, sources)
        for centre in sources.centres if spot.laid.before.marks else sources.centres[:1]:
            yield picture_pair(
                where,
                photos[0],
                photos[1],
                spot.laid,
                choice=sources.choice,
                centre=centre,
                writer=sources.writer,
            )


def _film_pairs(
    name: str, compared: ComparisonRecord, spot: SpotPair, sources: _Sources
) -> Iterator[PicturePair]:
    from defectmap.report.film_pictures import film_pairs

    try:
        films = [film_of(sources.store, one) for one in (spot.before, spot.after)]
    except OldResult:
        return  # only the figures of a film that was measured in an earlier way are kept
    where = _place(name, compared, spot, sources)
    yield from film_pairs(where, *films, choice=sources.choice, writer=sources.writer)


def _place(name: str, compared: ComparisonRecord, spot: SpotPair, sources: _Sources) -> str:
    """The panel, with its spot where there are several."""
    where = plain_words(sources.writer.term(name))
    if len(compared.result["spots"]) == 1:
        return where
    spot_name = plain_words(spot.before.photograph.spot)
    return sources.writer.tell("{panel}, spot {spot}", panel=where, spot=spot_name)
