"""Kept results: writing them, reading them back, and noticing when one was changed after it was made."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session, undefer

from defectmap import __version__
from defectmap.errors import JobError
from defectmap.record import model
from defectmap.record.corrections import Correction, corrections_in
from defectmap.record.intake import photographs_of
from defectmap.record.recent import Recent
from defectmap.record.rows import find_job, measurement_record, measurements_in, new_id
from defectmap.record.sealing import canonical, pack, seal_of, sha256_of_text, unpack
from defectmap.record.store import Store
from defectmap.trade.facts import Figures, MeasurementRecord, PhotographRecord
from defectmap.versions import is_old

_OPENED: Recent[Mapping[str, Any]] = Recent(60)


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoResult:
    """One measured (or refused) photograph: the result that counts."""

    photograph: PhotographRecord
    measurement_id: str
    record: Mapping[str, Any]  # as `measure --json` writes it, corrections included; never to be changed
    settings: Mapping[str, Any]
    corrections: tuple[Correction, ...]
    revision: int  # how many results the photograph has had

    @property
    def refused(self) -> str | None:
        """Why it could not be measured."""
        return self.record.get("refused")

    @property
    def film(self) -> bool:
        """Whether it is of a film, and not of one photograph."""
        return bool(self.record.get("film"))

    @property
    def field_width_mm(self) -> float | None:
        """How wide the picture is on the panel; None where the scale is not known."""
        if self.refused or self.record["scale"]["source"] == "none":
            return None
        return float(self.record["photo"]["width_px"] / self.record["scale"]["px_per_mm"])

    @property
    def old(self) -> bool:
        """Whether it was measured in an earlier way than this version measures."""
        return is_old(self.settings)


def keep_result(
    store: Store, photograph_id: str, result: Mapping[str, Any], *, sha256: str, settings: str
) -> MeasurementRecord:
    """Keep a result; where the same settings have kept one already, that one stays.

    Parameters
    ----------
    photograph_id, sha256 : str
        Of the photograph that was measured.
    result : mapping
        In the form of `defectmap measure --json`.
    settings : str
        Canonical JSON of all that decided the result, see `measuring.request_settings`.
    """
    words = canonical(result)
    refused = result.get("refused")
    row = model.Measurement(
        id=new_id(),
        photograph_id=photograph_id,
        program_version=__version__,
        settings=settings,
        settings_sha256=sha256_of_text(settings),
        made_at=store.clock(),
        refused=None if refused is None else str(refused),
        seal=seal_of(words, of=(sha256,), program_version=__version__, settings=settings),
        body=pack(words),
    )
    for name in Figures.__dataclass_fields__:
        setattr(row, name, getattr(figures_of(result), name))
    with store.writing() as session:
        # The photograph's row is the lock: two bays that measured the same photograph keep one result.
        session.scalars(
            select(model.Photograph).where(model.Photograph.id == photograph_id).with_for_update()
        ).one()
        there = session.scalars(
            select(model.Measurement).where(
                model.Measurement.photograph_id == row.photograph_id,
                model.Measurement.program_version == row.program_version,
                model.Measurement.settings_sha256 == row.settings_sha256,
            )
        ).one_or_none()
        if there is None:
            session.add(row)
    return measurement_record(there or row)


def results_of(store: Store, reference: str, *, panel: str | None = None) -> dict[str, PhotoResult]:
    """The result that counts for each measured photograph, by the photograph's identity.

    Parameters
    ----------
    panel : str, optional
        Only this panel's.

    Raises
    ------
    JobError
        A stored result was changed after it was made.
    """
    photographs = {
        one.id: one for one in photographs_of(store, reference) if panel is None or one.panel == panel
    }
    with store.reading() as session:
        rows = [row for row in _of_job(session, reference) if row.photograph_id in photographs]
        return _latest(session, rows, photographs)


def counts_for(row: model.Measurement, photograph: model.Photograph) -> bool:
    """Whether a result was made with the scale that its photograph has now; another one does not count.

    One whose settings were changed afterwards is not passed over: whoever opens it is told.
    """
    if sha256_of_text(row.settings) != row.settings_sha256:
        return True
    scale = json.loads(row.settings).get("scale") or {}
    return (scale.get("px_per_mm"), scale.get("field_width_mm")) == (
        photograph.px_per_mm,
        photograph.field_width_mm,
    )


def measurement_problem(row: model.Measurement, sha256: str) -> str | None:
    """What is wrong with a stored measurement of the photograph of that hash; None if nothing."""
    return _taken_apart(row, sha256)[1]


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
        directions_share=_number((result.get("film") or {}).get("directions_share")),
    )


def _of_job(session: Session, reference: str) -> Sequence[model.Measurement]:
    """Every measurement of a job that counts, the latest last, without the results themselves."""
    made = measurements_in(session, find_job(session, reference))
    return [row for row, photograph in made if counts_for(row, photograph)]


def _latest(
    session: Session, rows: Sequence[model.Measurement], photographs: Mapping[str, PhotographRecord]
) -> dict[str, PhotoResult]:
    settings = {row.id: json.loads(row.settings) for row in rows}
    counts = {row.photograph_id: row.id for row in rows}
    wanted = select(model.Measurement).where(model.Measurement.id.in_(counts.values()))
    records = {
        row.id: _opened(row, photographs[row.photograph_id])
        for row in session.scalars(wanted.options(undefer(model.Measurement.body)))
    }
    return {
        photograph_id: PhotoResult(
            photograph=photographs[photograph_id],
            measurement_id=row_id,
            record=records[row_id],
            settings=settings[row_id],
            corrections=corrections_in(settings[row_id]),
            revision=sum(row.photograph_id == photograph_id for row in rows),
        )
        for photograph_id, row_id in ((one, counts[one]) for one in photographs if one in counts)
    }


def _opened(row: model.Measurement, photograph: PhotographRecord) -> Mapping[str, Any]:
    """A result, taken apart and held against its seal.

    That is most of what a page or a report does with a result, so the last are kept, by all that was
    checked: a row that has changed in any way is checked again.
    """
    stored = measurement_record(row)
    parts = (row.id, row.settings, row.settings_sha256, row.seal, row.program_version, photograph.sha256)
    body = hashlib.sha256(row.body).hexdigest()
    key = canonical([body, *parts, repr((stored.figures, stored.refused))])
    found = _OPENED.get(key)
    if found is None:
        found, problem = _taken_apart(row, photograph.sha256)
        if problem is not None:
            raise JobError(
                f"The result of {photograph.name} cannot be trusted: {problem}; measure the photograph again."
            )
        _OPENED.put(key, found)
    return found


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


def _number(value: Any) -> float | None:
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None
