"""Jobs that are done with: closed, opened again; and finding one among many."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from defectmap.record import model
from defectmap.trade.facts import JobRecord

if TYPE_CHECKING:
    from defectmap.record.store import Store

ORDERS: Mapping[str, tuple[Callable[[JobRecord], Any], bool]] = {
    "Latest first": (lambda job: job.created_at, True),
    "Changed last": (lambda job: job.changed_at, True),
    "Reference": (lambda job: job.reference.casefold(), False),
    "Vehicle": (lambda job: job.vehicle.casefold(), False),
}


def close_job(store: Store, job_id: str, *, closed: bool) -> None:
    """Close a job, or open it again; nothing of it changes."""
    with store.writing() as session:
        session.get_one(model.Job, job_id).closed_at = store.clock() if closed else None


def closed_jobs(store: Store) -> frozenset[str]:
    """Identities of the jobs that are closed."""
    with store.reading() as session:
        return frozenset(session.scalars(select(model.Job.id).where(model.Job.closed_at.is_not(None))))


def sorted_jobs(jobs: Sequence[JobRecord], *, words: str, order: str) -> list[JobRecord]:
    """Jobs that hold every word that is looked for, in that order."""
    wanted = words.casefold().split()
    key, backwards = ORDERS[order]
    found = [job for job in jobs if all(word in _text(job) for word in wanted)]
    return sorted(found, key=key, reverse=backwards)


def free_reference(taken: Sequence[str], today: date) -> str:
    """A reference that no job has: the day and a number.

    Examples
    --------
    >>> free_reference(["2026-05-12/1"], date(2026, 5, 12))
    '2026-05-12/2'
    """
    number = next(n for n in range(1, len(taken) + 2) if f"{today}/{n}" not in taken)
    return f"{today}/{number}"


def _text(job: JobRecord) -> str:
    parts = (job.reference, job.vehicle, job.colour, job.kind, job.customer, job.created_at[:10])
    return " ".join(parts).casefold()
