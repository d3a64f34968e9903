"""A scale that was forgotten or mistyped: changed on the photograph, which is measured again at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

from defectmap.errors import NotInRecord
from defectmap.record import model
from defectmap.record.intake import checked_scale
from defectmap.record.rows import find_job

if TYPE_CHECKING:
    from defectmap.record.store import Store


def rescale(
    store: Store,
    reference: str,
    photograph_id: str,
    *,
    px_per_mm: float | None = None,
    field_width_mm: float | None = None,
) -> None:
    """Give a photograph another scale. Its earlier results stay in the record and no longer count.

    It is unmeasured from then on, unless that scale was measured before; what was corrected by hand is kept.

    Parameters
    ----------
    px_per_mm, field_width_mm : float, optional
        One of them; neither leaves the scale to the printed card.

    Raises
    ------
    NotInRecord
        The job has no such photograph.
    JobError
        A figure cannot be right, or both are given.
    """
    checked_scale(px_per_mm, field_width_mm)
    with store.writing() as session:
        job = find_job(session, reference, lock=True)
        row = session.get(model.Photograph, photograph_id)
        if row is None or row.job_id != job.id:
            raise NotInRecord(f"Job {reference} has no such photograph; look at its list again.")
        row.px_per_mm, row.field_width_mm = px_per_mm, field_width_mm
