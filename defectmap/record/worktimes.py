"""Who does a step and how long it takes: started and stopped, or typed."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from sqlalchemy import select

from defectmap.errors import AlreadyInRecord, JobError, NotInRecord
from defectmap.record import logbook
from defectmap.record.entries import StepSpec
from defectmap.record.rows import copied, find_entry, find_job, find_panel, new_id, of_panels
from defectmap.record.store import Store
from defectmap.trade.facts import RunningRecord

LONGEST_MINUTES = 12 * 60  # a clock that nobody stopped tells nothing


def start_work(store: Store, reference: str, panel: str, kind: str, *, by: str = "") -> RunningRecord:
    """Start the clock for a kind of step on a panel.

    Raises
    ------
    AlreadyInRecord
        It runs already.
    """
    with store.writing() as session:
        row = find_panel(session, find_job(session, reference, lock=True), panel)
        query = select(logbook.Running).where(
            logbook.Running.panel_id == row.id, logbook.Running.kind == kind
        )
        if session.scalars(query).first() is not None:
            raise AlreadyInRecord(f"The clock for {kind} on {panel} runs already; enter the step to stop it.")
        running = logbook.Running(
            id=new_id(), panel_id=row.id, kind=kind, by=by.strip(), started_at=store.clock()
        )
        session.add(running)
    return copied(RunningRecord, running, panel=panel)


def running_on(store: Store, reference: str) -> tuple[RunningRecord, ...]:
    """The clocks that run on a job."""
    with store.reading() as session:
        job = find_job(session, reference)
        query = of_panels(logbook.Running, job).order_by(logbook.Running.started_at)
        return tuple(copied(RunningRecord, row, panel=panel) for row, panel in session.execute(query))


def stop_work(store: Store, reference: str, panel: str, kind: str) -> tuple[float | None, str]:
    """Stop the clock: minutes worked, and who did it.

    The minutes are None where the clock ran for longer than anybody works in a day.

    Raises
    ------
    NotInRecord
        No such clock runs.
    """
    with store.writing() as session:
        row = find_panel(session, find_job(session, reference, lock=True), panel)
        query = select(logbook.Running).where(
            logbook.Running.panel_id == row.id, logbook.Running.kind == kind
        )
        running = session.scalars(query).first()
        if running is None:
            raise NotInRecord(f"No clock runs for {kind} on {panel}; start it, or type the minutes.")
        session.delete(running)
        began, ended = (datetime.fromisoformat(at) for at in (running.started_at, store.clock()))
    minutes = (ended - began).total_seconds() / 60
    return (round(minutes, 1) if 0 <= minutes <= LONGEST_MINUTES else None), running.by


def clocked(store: Store, reference: str, panel: str, spec: StepSpec) -> StepSpec:
    """A step with the minutes and the name of its clock, which stops; what was typed comes first."""
    if not any((one.panel, one.kind) == (panel, spec.kind) for one in running_on(store, reference)):
        return spec
    worked, who = stop_work(store, reference, panel, spec.kind)
    return replace(spec, minutes=worked if spec.minutes is None else spec.minutes, by=spec.by or who)


def put_minutes(store: Store, reference: str, step_id: str, minutes: float, *, by: str = "") -> None:
    """Say afterwards how long a step took, and who did it; an empty name leaves the one that is kept.

    Raises
    ------
    JobError
        Nobody works that long in a day, or less than no time.
    NotInRecord
        The job has no such step.
    """
    if not 0 < minutes <= LONGEST_MINUTES:
        raise JobError(f"{minutes:g} minutes cannot be right; give 1 to {LONGEST_MINUTES}.")
    with store.writing() as session:
        job = find_job(session, reference, lock=True)
        row = find_entry(session, logbook.Step, step_id, job, "step")
        row.minutes = minutes
        row.by = by.strip() or row.by
