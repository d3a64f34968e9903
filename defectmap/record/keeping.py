"""Kept results: reading them back, and noticing when one was changed after it was made."""

from __future__ import annotations

import hashlib
import json
import threading
from collections.abc import Mapping
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import undefer

from defectmap.errors import JobError, NotInRecord
from defectmap.record import model
from defectmap.record.rows import find_job, measurement_record
from defectmap.record.sealing import canonical, seal_of, sha256_of_text, unpack
from defectmap.record.store import Store
from defectmap.trade.facts import Figures, MeasurementRecord

MOST_OPENED = 60
_OPENED: dict[str, tuple[Mapping[str, Any], str | None]] = {}
_LOCK = threading.Lock()


def latest_measurements(store: Store, reference: str) -> Mapping[str, MeasurementRecord]:
    """The latest measurement of each photograph of a job, by the photograph's id."""
    with store.reading() as session:
        job = find_job(session, reference)
        rows = session.scalars(
            select(model.Measurement)
            .join(model.Photograph, model.Measurement.photograph_id == model.Photograph.id)
            .where(model.Photograph.job_id == job.id)
            .order_by(model.Measurement.made_at)
        )
        return {row.photograph_id: measurement_record(row) for row in rows}


def result_of(store: Store, measurement_id: str) -> Mapping[str, Any]:
    """Whole result of one measurement, marks and all; shared, so never to be changed.

    Raises
    ------
    NotInRecord
        There is no such measurement.
    JobError
        The stored result was edited or damaged since it was made.
    """
    with store.reading() as session:
        row = session.get(model.Measurement, measurement_id, options=[undefer(model.Measurement.body)])
        if row is None:
            raise NotInRecord("The record does not hold this measurement; measure the photograph again.")
        sha256 = session.get_one(model.Photograph, row.photograph_id).sha256
        result, problem = opened(row, sha256)
        if problem is not None:
            raise JobError(f"This result cannot be trusted: {problem}; measure the photograph again.")
        return result


def opened(row: model.Measurement, sha256: str) -> tuple[Mapping[str, Any], str | None]:
    """A stored result of the photograph of that hash, and what is wrong with it (None if nothing).

    Taking it apart is most of what a page or a report does with a result, so the last ones are kept, by the
    hash of all that was checked: a row that has changed in any way is taken apart and checked again.
    """
    parts = (row.settings, row.settings_sha256, row.seal, row.program_version, sha256)
    key = sha256_of_text(canonical([hashlib.sha256(row.body).hexdigest(), *parts, _figures_words(row)]))
    with _LOCK:
        found = _OPENED.pop(key, None)
    if found is None:
        found = _taken_apart(row, sha256)
    with _LOCK:
        _OPENED[key] = found  # the last used stands last
        while len(_OPENED) > MOST_OPENED:
            del _OPENED[next(iter(_OPENED))]
    return found


def measurement_problem(row: model.Measurement, sha256: str) -> str | None:
    """What is wrong with a stored measurement of the photograph of that hash; None if nothing."""
    return _taken_apart(row, sha256)[1]


def _figures_words(row: model.Measurement) -> str:
    stored = measurement_record(row)
    return repr((stored.figures, stored.refused))


def _taken_apart(row: model.Measurement, sha256: str) -> tuple[Mapping[str, Any], str | None]:
    try:
        words = unpack(row.body)
        result: dict[str, Any] = json.loads(words)
    except ValueError as error:
        return {}, str(error)
    return result, _problem(row, sha256, words, result)


def _problem(row: model.Measurement, sha256: str, words: str, result: Mapping[str, Any]) -> str | None:
    seal = seal_of(words, of=(sha256,), program_version=row.program_version, settings=row.settings)
    if seal != row.seal or sha256_of_text(row.settings) != row.settings_sha256:
        return "the result, its settings, its version or its photograph was changed after it was made"
    figures = figures_of(result)
    stored = measurement_record(row)
    if figures != stored.figures or result.get("refused") != stored.refused:
        return "the figures beside the result are not those inside it"
    return None


def figures_of(result: Mapping[str, Any]) -> Figures:
    """The few figures of a result that overviews and rules work with."""
    density = result.get("density_mm_per_cm2") or {}
    scale = result.get("scale") or {}
    return Figures(
        swirl=_number(density.get("swirl")),
        scratch=_number(density.get("scratch")),
        every_mark=_number(density.get("all")),
        longest_scratch_mm=_number(result.get("longest_scratch_mm")),
        haze=_number(result.get("haze")),
        score=_number(result.get("score")),
        calibrated=scale.get("source", "none") != "none",
    )


def _number(value: Any) -> float | None:
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None
