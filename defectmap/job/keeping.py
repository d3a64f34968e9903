"""Kept results: reading them back, and noticing when one was changed after it was made."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import undefer

from defectmap.job import model
from defectmap.job.errors import JobError, NotInRecord
from defectmap.job.records import Figures, MeasurementRecord
from defectmap.job.rows import find_job, measurement_record
from defectmap.job.sealing import seal_of, sha256_of_text, unpack
from defectmap.job.store import Store


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


def result_of(store: Store, measurement_id: str) -> dict[str, Any]:
    """Whole result of one measurement, marks and all.

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
            raise NotInRecord("There is no such measurement in the record; measure the photograph again.")
        sha256 = session.get_one(model.Photograph, row.photograph_id).sha256
        problem = measurement_problem(row, sha256)
        if problem is not None:
            raise JobError(f"This result cannot be trusted: {problem}; measure the photograph again.")
        result: dict[str, Any] = json.loads(unpack(row.body))
        return result


def measurement_problem(row: model.Measurement, sha256: str) -> str | None:
    """What is wrong with a stored measurement of the photograph of that hash; None if nothing."""
    try:
        words = unpack(row.body)
        result = json.loads(words)
    except ValueError as error:
        return str(error)
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
