"""Comparisons as the record keeps them: which photographs go against which, rows, seals."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, cast

from sqlalchemy import select
from sqlalchemy.orm import Session, undefer

from defectmap import __version__
from defectmap.comparison.films_apart import KindOfSpot, spots_by_kind
from defectmap.comparison.masking import Stage, claim
from defectmap.comparison.outcome import Claim
from defectmap.errors import JobError, NotInRecord
from defectmap.record import model
from defectmap.record.history import load_histories
from defectmap.record.measuring import PhotoRequest, made_by_hand, request_of
from defectmap.record.rows import copied, find_job, find_panel, new_id, of_panels
from defectmap.record.sealing import canonical, pack, seal_of, sha256_of_text, unpack
from defectmap.record.store import Store
from defectmap.trade.on_paint import on_any, on_paint
from defectmap.trade.stages import BASELINE, PROOF, stage_named
from defectmap.versions import COMPARING, MEASURING, is_old

UNWIPED = "corrected"


@dataclass(frozen=True, slots=True, kw_only=True)
class CompareRequest:
    """The photographs of one panel at two stages; spots that have only one side are left out.

    What was corrected by hand in the result that counts stands in each photograph's own settings.
    """

    panel: str
    panel_id: str
    before: tuple[PhotoRequest, ...]
    after: tuple[PhotoRequest, ...]
    unwiped: tuple[PhotoRequest, ...]  # the same spots before the solvent wipe; empty unless all are there
    before_stage: str
    after_stage: str
    spots: tuple[str, ...]  # spot of each pair
    claim: Claim  # which word the record supports
    setup: str | None  # hash of the set-up's repeatability
    kind: KindOfSpot = "photographs"  # what is held against each other
    left_out: tuple[str, ...] = ()  # spots that are of another kind

    @property
    def photographs(self) -> tuple[PhotoRequest, ...]:
        """All of them."""
        return (*self.before, *self.after, *self.unwiped)

    @property
    def settings(self) -> str:
        """Canonical JSON of all that decides the result."""
        corrected = {
            p.sha256: p.settings["corrections"] for p in self.photographs if p.settings.get("corrections")
        }
        return canonical(
            {
                "setup": self.setup,
                "before": [p.sha256 for p in self.before],
                "after": [p.sha256 for p in self.after],
                "unwiped": [p.sha256 for p in self.unwiped],
                "scale": [[p.px_per_mm, p.field_width_mm] for p in self.photographs],
                "claim": [self.claim.word, *(r.code for r in self.claim.reasons if r.code != "wiped")],
                "measuring": MEASURING,
                "comparing": COMPARING,
                **({"corrections": corrected} if corrected else {}),
                **({"left_out": list(self.left_out)} if self.left_out else {}),
            }
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparisonRecord:
    """A kept comparison; `result` is the JSON of `defectmap compare`."""

    id: str
    panel: str
    before_stage: str
    after_stage: str
    program_version: str
    settings: Mapping[str, Any]
    made_at: str
    verdict: str
    result: Mapping[str, Any]

    @property
    def old(self) -> bool:
        """Whether it was measured or compared in an earlier way than this version does."""
        return is_old(self.settings)


def compare_request(
    store: Store,
    reference: str,
    panel: str,
    *,
    before: str = BASELINE,
    after: str = PROOF,
    setup: str | None = None,
) -> CompareRequest:
    """Which photographs of a panel are to be compared.

    Parameters
    ----------
    before, after : str
        Stages.
    setup : str, optional
        Hash of the set-up's repeatability that is to be used.

    Raises
    ------
    NotInRecord
        No spot of the panel is photographed at both stages.
    """
    before, after = stage_named(before), stage_named(after)
    with store.reading() as session:
        job = find_job(session, reference)
        row = find_panel(session, job, panel)
        sides = [_latest_of_each_spot(session, row, stage) for stage in (before, after)]
        both = sorted(sides[0].keys() & sides[1].keys())
        if not both:
            raise NotInRecord(
                f"No spot of {panel} is photographed both {before!r} and {after!r}; add the missing side."
            )
        films = [{spot: row.film for spot, row in side.items()} for side in sides]
        kinds = spots_by_kind({spot: (films[0][spot], films[1][spot]) for spot in both})
        kind = next(one for one, spots in kinds.items() if spots)
        left_out = tuple(spot for spot in both if spot not in kinds[kind])
        both = kinds[kind]
        # what came back with the wipe is told of photographs only
        of_photographs = kind == "photographs" and after == PROOF
        middle = _latest_of_each_spot(session, row, UNWIPED) if of_photographs else {}
        middle = {spot: one for spot, one in middle.items() if not one.film}
        sides.append(middle if all(spot in middle for spot in both) else {})
        by_hand = made_by_hand(session, job)
        shots = [[_photo(store, side[spot], by_hand) for spot in both if spot in side] for side in sides]
        return CompareRequest(
            panel=panel,
            panel_id=row.id,
            before=tuple(shots[0]),
            after=tuple(shots[1]),
            unwiped=tuple(shots[2]),
            before_stage=before,
            after_stage=after,
            spots=tuple(both),
            claim=_claim(session, row, (before, after), [sides[1][spot] for spot in both]),
            setup=setup,
            kind=kind,
            left_out=left_out,
        )


def kept_comparison(store: Store, request: CompareRequest) -> ComparisonRecord | None:
    """The comparison that was made from exactly this, if there is one."""
    with store.reading() as session:
        found = _there(session, request)
        return None if found is None else _record(found, request.panel)


def keep_comparison(store: Store, request: CompareRequest, result: Mapping[str, Any]) -> ComparisonRecord:
    """Keep a comparison; where one was kept from exactly the same, that one stays.

    Parameters
    ----------
    result : mapping
        In the form of `defectmap compare --json`.
    """
    words, settings = canonical(result), request.settings
    row = model.KeptComparison(
        id=new_id(),
        panel_id=request.panel_id,
        before_stage=request.before_stage,
        after_stage=request.after_stage,
        program_version=__version__,
        settings=settings,
        settings_sha256=sha256_of_text(settings),
        made_at=store.clock(),
        verdict=str(result.get("comparable", "")),
        seal=_seal(words, __version__, settings),
        body=pack(words),
    )
    with store.writing() as session:
        session.scalars(select(model.Panel).where(model.Panel.id == request.panel_id).with_for_update()).one()
        there = _there(session, request)
        if there is None:
            session.add(row)
    return _record(there or row, request.panel)


def comparisons_of(store: Store, reference: str) -> tuple[ComparisonRecord, ...]:
    """Every kept comparison of a job with its result, the panels in order, the latest last."""
    with store.reading() as session:
        job = find_job(session, reference)
        rows = session.execute(
            of_panels(model.KeptComparison, job)
            .order_by(model.Panel.position, model.KeptComparison.made_at)
            .options(undefer(model.KeptComparison.body))
        )
        return tuple(_record(row, panel) for row, panel in rows)


def latest_comparisons(
    store: Store, reference: str, *, before: str, after: str
) -> dict[str, ComparisonRecord]:
    """The latest comparison of each panel of a job between two stages, by the panel's name."""
    found = comparisons_of(store, reference)
    return {one.panel: one for one in found if (one.before_stage, one.after_stage) == (before, after)}


def comparison_problem(row: model.KeptComparison) -> str | None:
    """What is wrong with a stored comparison; None if nothing."""
    return _taken_apart(row)[1]


def _taken_apart(row: model.KeptComparison) -> tuple[Mapping[str, Any], str | None]:
    """The result of a row, and what is wrong with it."""
    try:
        words = unpack(row.body)
        result: dict[str, Any] = json.loads(words)
    except ValueError as error:
        return {}, str(error)
    sealed = _seal(words, row.program_version, row.settings) == row.seal
    problem = None
    if not sealed or sha256_of_text(row.settings) != row.settings_sha256:
        problem = "the result, its settings, its version or its photographs were changed after it was made"
    elif str(result.get("comparable", "")) != row.verdict:
        problem = "the verdict beside the result is not the one inside it"
    return result, problem


def _seal(words: str, program_version: str, settings: str) -> str:
    made_from = json.loads(settings)
    hashes = (*made_from.get("before", ()), *made_from.get("after", ()))
    return seal_of(words, of=hashes, program_version=program_version, settings=settings)


def _there(session: Session, request: CompareRequest) -> model.KeptComparison | None:
    query = select(model.KeptComparison).where(
        model.KeptComparison.panel_id == request.panel_id,
        model.KeptComparison.program_version == __version__,
        model.KeptComparison.settings_sha256 == sha256_of_text(request.settings),
    )
    return session.scalars(query.options(undefer(model.KeptComparison.body))).one_or_none()


def _record(row: model.KeptComparison, panel: str) -> ComparisonRecord:
    result, problem = _taken_apart(row)
    if problem is not None:
        raise JobError(f"A stored comparison of {panel} cannot be trusted: {problem}; run verify.")
    return copied(ComparisonRecord, row, panel=panel, settings=json.loads(row.settings), result=result)


def _claim(
    session: Session, panel: model.Panel, stages: tuple[str, str], after: Sequence[model.Photograph]
) -> Claim:
    """The word that the record supports for all spots together."""
    (history,) = load_histories(session, [panel])
    before_stage, after_stage = (cast("Stage", stage) for stage in stages)
    found = on_any([on_paint(history, taken_at=one.taken_at) for one in after])
    return claim(before_stage=before_stage, after_stage=after_stage, on_paint=found)


def _photo(store: Store, row: model.Photograph, by_hand: Mapping[str, Mapping[str, Any]]) -> PhotoRequest:
    corrections = by_hand.get(row.id, {}).get("corrections")
    return request_of(store, row, {"corrections": corrections} if corrections else {})


def _latest_of_each_spot(session: Session, panel: model.Panel, stage: str) -> dict[str, model.Photograph]:
    rows = session.execute(
        select(model.Spot.name, model.Photograph)
        .join(model.Photograph, model.Photograph.spot_id == model.Spot.id)
        .where(
            model.Spot.panel_id == panel.id,
            model.Photograph.stage == stage,
            model.Photograph.set_aside.is_(None),
        )
        .order_by(model.Photograph.added_at)
    )
    return {spot: photograph for spot, photograph in rows}
