"""A report of a job in the record: its kept comparisons, steps, readings and photographs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

from defectmap.pictures.crops import Centre
from defectmap.record.advise import PanelAdvice, advise
from defectmap.record.comparisons import ComparisonRecord, comparisons_of
from defectmap.record.intake import photographs_of
from defectmap.record.keeping import latest_measurements, result_of
from defectmap.record.notes import setting
from defectmap.record.overview import overview
from defectmap.record.store import TABLES_FILE, Store
from defectmap.report.assembling import Heading, assemble
from defectmap.report.content import PanelSection, PhotographEntry, PicturePair, Report
from defectmap.report.picture_pairs import kept_spot, picture_pair
from defectmap.report.privacy import Aliases, PrivacyChoice
from defectmap.report.sections import Record, panel_section, side_records
from defectmap.report.sources import photograph_entry
from defectmap.report.work import film_entry, step_entries, why_left
from defectmap.trade.facts import PhotographRecord
from defectmap.trade.stages import BASELINE, PROOF
from defectmap.trade.tables import TradeTables, load_tables
from defectmap.words.report_words import plain_words

TITLE = "Paint before and after"
WORKERS = 3  # each holds two photographs: 200 MB at 12 megapixels


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sources:
    """What the sections of a job are made from."""

    store: Store
    photographs: Mapping[str, PhotographRecord]  # by SHA-256
    measurements: Mapping[str, str]  # identity of the latest measurement by SHA-256
    aliases: Aliases
    choice: PrivacyChoice
    centres: tuple[Centre, ...]  # what pictures are drawn about


def report_from_job(
    store: Store,
    reference: str,
    *,
    made_on: str,
    before: str = BASELINE,
    after: str = PROOF,
    choice: PrivacyChoice | None = None,
    with_pictures: bool = True,
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
    with_pictures : bool
        False leaves the side-by-side pictures out, which need the originals.
    close_ups : bool
        False leaves those about the longest scratch out, which only the full version shows.

    Returns
    -------
    Report

    Raises
    ------
    NotInRecord
        There is no such job.
    """
    privacy = choice or PrivacyChoice()
    look = overview(store, reference)
    tables = load_tables(store.folder / TABLES_FILE)
    states = dict(zip((panel.history.panel.name for panel in look.panels), advise(look, tables), strict=True))
    centres: tuple[Centre, ...] = ("hotspot", "worst scratch") if close_ups else ("hotspot",)
    sources = _sources(store, reference, privacy, centres if with_pictures else ())
    compared = _latest(comparisons_of(store, reference), before, after)
    photographs = _photographs(sources, {before, after})
    measured = dict.fromkeys(entry.panel for entry in photographs)
    names = [name for name in states if plain_words(name) in measured]
    with ThreadPoolExecutor(WORKERS) as pool:  # decoding and cropping leave the interpreter free
        sections = list(
            pool.map(lambda name: _section(name, compared.get(name), sources, states[name], tables), names)
        )
    setups = {record.result.get("setup") for record in compared.values()}
    return assemble(
        _heading(store, look.job, made_on, privacy),
        sections,
        photographs,
        steps=step_entries([panel.history for panel in look.panels], tables),
        films=[film_entry(state) for state in states.values() if state.budget.known],
        film_assumptions=tuple(dict.fromkeys(s.budget.assumption for s in states.values() if s.budget.known)),
        setup=setups.pop() if len(setups) == 1 else None,
    )


def _heading(store: Store, job: Any, made_on: str, choice: PrivacyChoice) -> Heading:
    vehicle = ", ".join(plain_words(word) for word in (job.vehicle or job.kind, job.colour) if word)
    shop = plain_words(setting(store, "shop", {}).get("name", ""))
    return Heading(
        title=TITLE,
        made_on=made_on,
        reference=plain_words(job.reference),
        customer=plain_words(job.customer) or None if choice.customer else None,
        vehicle=vehicle or None,
        shop=shop or None,
    )


def _sources(store: Store, reference: str, choice: PrivacyChoice, centres: tuple[Centre, ...]) -> _Sources:
    kept = photographs_of(store, reference)
    latest = latest_measurements(store, reference)
    aliases = Aliases(choice)
    for photo in kept:
        aliases.add(photo.name, f"the photograph {photo.stage} of {plain_words(photo.panel)}")
    return _Sources(
        store=store,
        photographs={photo.sha256: photo for photo in kept},
        measurements={photo.sha256: latest[photo.id].id for photo in kept if photo.id in latest},
        aliases=aliases,
        choice=choice,
        centres=centres,
    )


def _latest(found: Sequence[ComparisonRecord], before: str, after: str) -> dict[str, ComparisonRecord]:
    """The latest comparison of each panel between these stages."""
    return {one.panel: one for one in found if (one.before_stage, one.after_stage) == (before, after)}


def _photographs(sources: _Sources, stages: set[str]) -> list[PhotographEntry]:
    return [
        photograph_entry(
            result_of(sources.store, sources.measurements[sha256]),
            panel=photo.panel,
            spot=photo.spot,
            stage=photo.stage,
            aliases=sources.aliases,
        )
        for sha256, photo in sources.photographs.items()
        if photo.stage in stages and sha256 in sources.measurements
    ]


def _section(
    name: str,
    compared: ComparisonRecord | None,
    sources: _Sources,
    state: PanelAdvice,
    tables: TradeTables,
) -> PanelSection:
    why = why_left(state, tables)
    if compared is None:
        return panel_section(name, _uncompared(), aliases=sources.aliases, why_left=why)
    record = compared.result
    pairs = list(_pairs(name, record, sources)) if record["comparable"] != "no" else []
    return panel_section(name, record, aliases=sources.aliases, why_left=why, pairs=pairs)


def _uncompared() -> Record:
    return {
        "comparable": "no",
        "reasons": ["It is photographed at one of the two stages only, or not compared yet."],
    }


def _pairs(name: str, record: Record, sources: _Sources) -> Iterator[PicturePair]:
    """Pictures of every spot whose two originals are still in the record."""
    from defectmap.panel.photo.photograph import load

    if not sources.centres:
        return
    sides = zip(side_records(record, "before"), side_records(record, "after"), record["spots"], strict=True)
    for before, after, spot in sides:
        hashes = [side["photo"]["sha256"] for side in (before, after)]
        if any(sha256 not in sources.photographs for sha256 in hashes):
            continue
        marks = _marks(sources, hashes[0])
        laid = kept_spot(spot, before, after, marks)
        photos = [
            load(sources.store.originals.path(sha256).read_bytes(), name=sources.photographs[sha256].name)
            for sha256 in hashes
        ]
        where = plain_words(name)
        if len(record["spots"]) > 1:
            where = f"{where}, spot {plain_words(sources.photographs[hashes[0]].spot)}"
        for centre in sources.centres if marks else sources.centres[:1]:
            yield picture_pair(where, photos[0], photos[1], laid, choice=sources.choice, centre=centre)


def _marks(sources: _Sources, sha256: str) -> list[Mapping[str, Any]]:
    if sha256 not in sources.measurements:
        return []
    return list(result_of(sources.store, sources.measurements[sha256]).get("marks", ()))
