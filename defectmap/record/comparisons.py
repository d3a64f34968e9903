"""Before against after, panel by panel, kept with what made it; the comparing function is handed in."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session, undefer

from defectmap.errors import JobError, NotInRecord, PanelNotComparable, PhotoError
from defectmap.record import model
from defectmap.record.history import load_histories
from defectmap.record.measuring import PhotoRequest, made_by_hand, request_of
from defectmap.record.rows import find_job, find_panel, new_id, photograph_record
from defectmap.record.sealing import canonical, pack, seal_of, sha256_of_text, unpack
from defectmap.record.store import Store
from defectmap.trade.facts import PhotographRecord
from defectmap.trade.stages import BASELINE, PROOF, Claim, claim_for, stage_named

UNWIPED = "corrected"


@dataclass(frozen=True, slots=True, kw_only=True)
class CompareRequest:
    """The photographs of one panel at two stages; spots that have only one side are left out.

    What was corrected by hand in the result that counts stands in each photograph's own settings.
    """

    panel: str
    before: tuple[PhotoRequest, ...]
    after: tuple[PhotoRequest, ...]
    unwiped: tuple[PhotoRequest, ...]  # the same spots before the solvent wipe; empty unless all are there
    before_stage: str
    after_stage: str
    spots: tuple[str, ...]  # spot of each pair
    claim: Claim  # which word the record supports
    settings: Mapping[str, Any]


CompareFunction = Callable[[CompareRequest], Mapping[str, Any]]


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparisonRecord:
    """A kept comparison; `result` is the JSON of `defectmap compare` (None in lists)."""

    id: str
    panel: str
    before_stage: str
    after_stage: str
    program_version: str
    settings: Mapping[str, Any]
    made_at: str
    verdict: str
    result: Mapping[str, Any]


def compare_panel(
    store: Store,
    reference: str,
    panel: str,
    *,
    compare: CompareFunction,
    program_version: str,
    before: str = BASELINE,
    after: str = PROOF,
    settings: Mapping[str, Any] | None = None,
) -> ComparisonRecord:
    """Compare a panel between two stages and keep the result; the same comparison is made only once.

    Corrections by hand count: they are handed to `compare` with each photograph, and a comparison made
    before one of them is not taken for one made after it.

    Parameters
    ----------
    compare : callable
        From `CompareRequest` to the result as a mapping.
    before, after : str
        Stages.

    Raises
    ------
    JobError
        No spot of the panel is photographed at both stages.
    """
    before, after = stage_named(before), stage_named(after)
    request, panel_id = _request(store, reference, panel, before, after, settings or {})
    hashes = {
        "before": [p.sha256 for p in request.before],
        "after": [p.sha256 for p in request.after],
        "unwiped": [p.sha256 for p in request.unwiped],
        "scale": [[p.px_per_mm, p.field_width_mm] for p in (*request.before, *request.after)],
        "claim": [request.claim.word, *request.claim.reasons],
    }
    words_of_settings = canonical({**request.settings, **_by_hand(request), **hashes})
    with store.reading() as session:
        there = _there(session, panel_id, program_version, words_of_settings)
        if there is not None:
            return _record(there, panel)
    try:
        result = compare(request)
    except PhotoError as error:
        raise PanelNotComparable(f"Panel {panel} cannot be compared: {error}") from error
    row = _row(request, panel_id, result, program_version, words_of_settings, store.clock())
    with store.writing() as session:
        session.scalars(select(model.Panel).where(model.Panel.id == panel_id).with_for_update()).one()
        there = _there(session, panel_id, program_version, words_of_settings)
        if there is None:
            session.add(row)
    return _record(there or row, panel)


def comparisons_of(store: Store, reference: str) -> tuple[ComparisonRecord, ...]:
    """Every kept comparison of a job with its result, the panels in order, the latest last."""
    with store.reading() as session:
        job = find_job(session, reference)
        rows = session.execute(
            select(model.Comparison, model.Panel.name)
            .join(model.Panel, model.Comparison.panel_id == model.Panel.id)
            .where(model.Panel.job_id == job.id)
            .order_by(model.Panel.position, model.Comparison.made_at)
            .options(undefer(model.Comparison.body))
        )
        return tuple(_record(row, panel) for row, panel in rows)


def comparison_problem(row: model.Comparison) -> str | None:
    """What is wrong with a stored comparison; None if nothing."""
    try:
        words = unpack(row.body)
        result = json.loads(words)
    except ValueError as error:
        return str(error)
    sealed = _seal(words, row.program_version, row.settings) == row.seal
    if not sealed or sha256_of_text(row.settings) != row.settings_sha256:
        return "the result, its settings, its version or its photographs were changed after it was made"
    if str(result.get("comparable", "")) != row.verdict:
        return "the verdict beside the result is not the one inside it"
    return None


def _by_hand(request: CompareRequest) -> dict[str, Any]:
    """Corrections of the photographs, by hash; nothing where there are none."""
    photographs = (*request.before, *request.after, *request.unwiped)
    found = {p.sha256: p.settings["corrections"] for p in photographs if p.settings.get("corrections")}
    return {"corrections": found} if found else {}


def _row(
    request: CompareRequest,
    panel_id: str,
    result: Mapping[str, Any],
    program_version: str,
    settings: str,
    now: str,
) -> model.Comparison:
    words = canonical(result)
    return model.Comparison(
        id=new_id(),
        panel_id=panel_id,
        before_stage=request.before_stage,
        after_stage=request.after_stage,
        program_version=program_version,
        settings=settings,
        settings_sha256=sha256_of_text(settings),
        made_at=now,
        verdict=str(result.get("comparable", "")),
        seal=_seal(words, program_version, settings),
        body=pack(words),
    )


def _seal(words: str, program_version: str, settings: str) -> str:
    made_from = json.loads(settings)
    hashes = (*made_from.get("before", ()), *made_from.get("after", ()))
    return seal_of(words, of=hashes, program_version=program_version, settings=settings)


def _there(session: Session, panel_id: str, program_version: str, settings: str) -> model.Comparison | None:
    query = select(model.Comparison).where(
        model.Comparison.panel_id == panel_id,
        model.Comparison.program_version == program_version,
        model.Comparison.settings_sha256 == sha256_of_text(settings),
    )
    return session.scalars(query.options(undefer(model.Comparison.body))).one_or_none()


def _record(row: model.Comparison, panel: str) -> ComparisonRecord:
    problem = comparison_problem(row)
    if problem is not None:
        raise JobError(f"A stored comparison of {panel} cannot be trusted: {problem}; run verify.")
    return ComparisonRecord(
        id=row.id,
        panel=panel,
        before_stage=row.before_stage,
        after_stage=row.after_stage,
        program_version=row.program_version,
        settings=json.loads(row.settings),
        made_at=row.made_at,
        verdict=row.verdict,
        result=json.loads(unpack(row.body)),
    )


def _request(
    store: Store, reference: str, panel: str, before: str, after: str, settings: Mapping[str, Any]
) -> tuple[CompareRequest, str]:
    with store.reading() as session:
        job = find_job(session, reference)
        row = find_panel(session, job, panel)
        sides = [_latest_of_each_spot(session, row, stage) for stage in (before, after)]
        both = sorted(sides[0].keys() & sides[1].keys())
        if not both:
            raise NotInRecord(
                f"No spot of {panel} is photographed both {before!r} and {after!r}; add the missing side."
            )
        (history,) = load_histories(session, [row])
        claims = [
            claim_for(history, before=_brief(sides[0][spot]), after=_brief(sides[1][spot])) for spot in both
        ]
        middle = _latest_of_each_spot(session, row, UNWIPED) if after == PROOF else {}
        sides.append(middle if all(spot in middle for spot in both) else {})
        by_hand = made_by_hand(session, job)
        pairs = [
            tuple(_photo(store, side[spot], settings, by_hand) for spot in both if spot in side)
            for side in sides
        ]
    reasons = tuple(dict.fromkeys(reason for claim in claims for reason in claim.reasons))
    claim = Claim(word="less visible" if reasons else "removed", reasons=reasons)
    request = CompareRequest(
        panel=panel,
        before=pairs[0],
        after=pairs[1],
        unwiped=pairs[2],
        before_stage=before,
        after_stage=after,
        spots=tuple(both),
        claim=claim,
        settings=settings,
    )
    return request, row.id


def _photo(
    store: Store,
    row: model.Photograph,
    settings: Mapping[str, Any],
    by_hand: Mapping[str, Mapping[str, Any]],
) -> PhotoRequest:
    corrections = by_hand.get(row.id, {}).get("corrections")
    return request_of(store, row, {**settings, "corrections": corrections} if corrections else settings)


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


def _brief(row: model.Photograph) -> PhotographRecord:
    return photograph_record(row, panel="", spot="")
