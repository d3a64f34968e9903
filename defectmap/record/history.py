"""Load what the rules of the trade look at: the history of each panel."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from defectmap.record import model
from defectmap.record.rows import find_job, panel_record, reading_record, stage_record, step_record
from defectmap.record.store import Store
from defectmap.trade.facts import PanelHistory


def histories(store: Store, reference: str) -> tuple[PanelHistory, ...]:
    """History of each panel of a job, in the order of the panels."""
    with store.reading() as session:
        job = find_job(session, reference)
        panels = session.scalars(
            select(model.Panel).where(model.Panel.job_id == job.id).order_by(model.Panel.position)
        ).all()
        return load_histories(session, panels)


def load_histories(session: Session, panels: Sequence[model.Panel]) -> tuple[PanelHistory, ...]:
    """Like `histories`, inside a transaction; five queries however many panels there are."""
    ids = [panel.id for panel in panels]
    photographed: dict[str, set[str]] = defaultdict(set)
    stages_seen = (
        select(model.Spot.panel_id, model.Photograph.stage)
        .join(model.Photograph, model.Photograph.spot_id == model.Spot.id)
        .where(model.Spot.panel_id.in_(ids), model.Photograph.set_aside.is_(None))
        .distinct()
    )
    for panel_id, stage in session.execute(stages_seen):
        photographed[panel_id].add(stage)
    steps: dict[str, list[Any]] = defaultdict(list)
    with_spot = (
        select(model.Step, model.Spot.name)
        .outerjoin(model.Spot, model.Step.spot_id == model.Spot.id)
        .where(model.Step.panel_id.in_(ids), model.Step.set_aside.is_(None))
        .order_by(model.Step.at, model.Step.id)
    )
    for step, spot in session.execute(with_spot):
        steps[step.panel_id].append(step_record(step, spot=spot))
    readings: dict[str, list[Any]] = defaultdict(list)
    kept = model.Reading.panel_id.in_(ids), model.Reading.set_aside.is_(None)
    for reading in session.scalars(select(model.Reading).where(*kept).order_by(model.Reading.at)):
        readings[reading.panel_id].append(reading_record(reading))
    entered: dict[str, list[Any]] = defaultdict(list)
    of_panels = select(model.StageEntry).where(model.StageEntry.panel_id.in_(ids))
    for entry in session.scalars(of_panels.order_by(model.StageEntry.at)):
        entered[entry.panel_id].append(stage_record(entry))
    return tuple(
        PanelHistory(
            panel=panel_record(panel),
            photographed=frozenset(photographed[panel.id]),
            steps=tuple(steps[panel.id]),
            readings=tuple(readings[panel.id]),
            stages=tuple(entered[panel.id]),
        )
        for panel in panels
    )
