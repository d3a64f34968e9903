"""The results of a job's photographs as the pages need them: which counts, what it was before corrections."""

from __future__ import annotations

import json
import threading
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import select
from sqlalchemy.orm import Session, undefer

from defectmap.errors import JobError
from defectmap.record import model
from defectmap.record.corrections import Correction, corrections_in
from defectmap.record.intake import photographs_of
from defectmap.record.keeping import MOST_OPENED, opened
from defectmap.record.rows import find_job
from defectmap.trade.facts import PhotographRecord

if TYPE_CHECKING:
    from defectmap.record.store import Store

# By the row's identity, without fetching the result itself from the database.
_OPENED: dict[str, Mapping[str, Any]] = {}
_LOCK = threading.Lock()


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoResult:
    """One measured (or refused) photograph."""

    photograph: PhotographRecord
    measurement_id: str
    record: Mapping[str, Any]  # the result that counts, corrections included
    base: Mapping[str, Any]  # as the program measured it
    corrections: tuple[Correction, ...]

    @property
    def refused(self) -> str | None:
        """Why it could not be measured."""
        return self.record.get("refused")


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
        find_job(session, reference)
        rows = session.scalars(
            select(model.Measurement)
            .where(model.Measurement.photograph_id.in_(photographs))
            .order_by(model.Measurement.made_at)
        ).all()
        records = _open_all(session, rows, photographs)
    return _latest(rows, photographs, records)


def _latest(
    rows: Any, photographs: Mapping[str, PhotographRecord], records: Mapping[str, Mapping[str, Any]]
) -> dict[str, PhotoResult]:
    found: dict[str, PhotoResult] = {}
    bases: dict[str, Mapping[str, Any]] = {}
    for row in rows:
        photograph = photographs[row.photograph_id]
        record = records[row.id]
        corrections = corrections_in(json.loads(row.settings))
        if not corrections:
            bases[row.photograph_id] = record
        found[row.photograph_id] = PhotoResult(
            photograph=photograph,
            measurement_id=row.id,
            record=record,
            base=bases.get(row.photograph_id, record),
            corrections=corrections,
        )
    return found


def _open_all(
    session: Session, rows: Any, photographs: Mapping[str, PhotographRecord]
) -> dict[str, Mapping[str, Any]]:
    """The results themselves; each is read and checked once, as a kept result never changes."""
    with _LOCK:
        records = {row.id: _OPENED[row.id] for row in rows if row.id in _OPENED}
    unknown = [row.id for row in rows if row.id not in records]
    query = select(model.Measurement).where(model.Measurement.id.in_(unknown))
    for row in session.scalars(query.options(undefer(model.Measurement.body))):
        records[row.id] = _opened(row, photographs[row.photograph_id])
    with _LOCK:
        _OPENED.update((one, records[one]) for one in unknown)
        while len(_OPENED) > MOST_OPENED:
            _OPENED.pop(next(iter(_OPENED)))
    return records


def _opened(row: model.Measurement, photograph: PhotographRecord) -> Mapping[str, Any]:
    record, problem = opened(row, photograph.sha256)
    if problem is not None:
        raise JobError(
            f"The result of {photograph.name} cannot be trusted: {problem}; measure the photograph again."
        )
    return record
