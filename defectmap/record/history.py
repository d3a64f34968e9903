"""Load what the rules of the trade look at: the history of each panel, with earlier jobs of its vehicle."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from sqlalchemy import select
from sqlalchemy.orm import Session

from defectmap.record import logbook, model
from defectmap.record.rows import copied, find_job, panels_in, stage_record, step_record
from defectmap.record.store import Store
from defectmap.trade.facts import PanelHistory, PanelRecord, ReadingRecord, StageRecord, StepRecord


def histories(store: Store, reference: str) -> tuple[PanelHistory, ...]:
    """History of each panel of a job, in the order of the panels."""
    with store.reading() as session:
        return load_histories(session, panels_in(session, find_job(session, reference)))


def load_histories(session: Session, panels: Sequence[model.Panel]) -> tuple[PanelHistory, ...]:
    """Like `histories`, inside a transaction; six queries however many panels there are."""
    earlier = _earlier_panels(session, panels)
    ids = [panel.id for panel in panels]
    every = [*ids, *(panel_id for found in earlier.values() for panel_id in found)]
    photographed: dict[str, set[str]] = defaultdict(set)
    stages_seen = (
        select(model.Spot.panel_id, model.Photograph.stage)
        .join(model.Photograph, model.Photograph.spot_id == model.Spot.id)
        .where(model.Spot.panel_id.in_(ids), model.Photograph.set_aside.is_(None))
        .distinct()
    )
    for panel_id, stage in session.execute(stages_seen):
        photographed[panel_id].add(stage)
    steps, readings = _steps(session, every), _readings(session, every)
    entered: dict[str, list[StageRecord]] = defaultdict(list)
    of_panels = select(logbook.StageEntry).where(logbook.StageEntry.panel_id.in_(ids))
    for entry in session.scalars(of_panels.order_by(logbook.StageEntry.at)):
        entered[entry.panel_id].append(stage_record(entry))
    return tuple(
        PanelHistory(
            panel=copied(PanelRecord, panel),
            photographed=frozenset(photographed[panel.id]),
            steps=tuple(steps[panel.id]),
            readings=tuple(readings[panel.id]),
            stages=tuple(entered[panel.id]),
            earlier_steps=tuple(step for one in earlier[panel.id] for step in steps[one]),
            earlier_readings=tuple(reading for one in earlier[panel.id] for reading in readings[one]),
        )
        for panel in panels
    )


def _earlier_panels(session: Session, panels: Sequence[model.Panel]) -> dict[str, list[str]]:
    """The same panels in earlier jobs of the same vehicle, oldest first: panel → panels."""
    found: dict[str, list[str]] = defaultdict(list)
    if not panels:
        return found
    job = session.get(model.Job, panels[0].job_id)
    if job is None or job.vehicle_id is None:
        return found
    query = (
        select(model.Panel.id, model.Panel.name)
        .join(model.Job, model.Panel.job_id == model.Job.id)
        .where(model.Job.vehicle_id == job.vehicle_id, model.Job.created_at < job.created_at)
        .order_by(model.Job.created_at)
    )
    by_name: dict[str, list[str]] = defaultdict(list)
    for panel_id, name in session.execute(query):
        by_name[name].append(panel_id)
    for panel in panels:
        found[panel.id] = by_name[panel.name]
    return found


def _steps(session: Session, panel_ids: Sequence[str]) -> dict[str, list[StepRecord]]:
    steps: dict[str, list[StepRecord]] = defaultdict(list)
    with_spot = (
        select(logbook.Step, model.Spot.name)
        .outerjoin(model.Spot, logbook.Step.spot_id == model.Spot.id)
        .where(logbook.Step.panel_id.in_(panel_ids), logbook.Step.set_aside.is_(None))
        .order_by(logbook.Step.at, logbook.Step.id)
    )
    for step, spot in session.execute(with_spot):
        steps[step.panel_id].append(step_record(step, spot=spot))
    return steps


def _readings(session: Session, panel_ids: Sequence[str]) -> dict[str, list[ReadingRecord]]:
    readings: dict[str, list[ReadingRecord]] = defaultdict(list)
    with_job = (
        select(logbook.Reading, model.Job.reference)
        .join(model.Panel, logbook.Reading.panel_id == model.Panel.id)
        .join(model.Job, model.Panel.job_id == model.Job.id)
        .where(logbook.Reading.panel_id.in_(panel_ids), logbook.Reading.set_aside.is_(None))
        .order_by(logbook.Reading.at, logbook.Reading.id)
    )
    for reading, reference in session.execute(with_job):
        readings[reading.panel_id].append(copied(ReadingRecord, reading, job=reference))
    return readings
