"""What the record has kept, for tests that look at it past the results that count."""

from __future__ import annotations

from defectmap.record.keeping import _of_job
from defectmap.record.rows import measurement_record
from defectmap.record.store import Store
from defectmap.trade.facts import MeasurementRecord


def latest_measurements(store: Store, reference: str) -> dict[str, MeasurementRecord]:
    """The latest measurement of each photograph of a job, by the photograph's id."""
    with store.reading() as session:
        return {row.photograph_id: measurement_record(row) for row in _of_job(session, reference)}
