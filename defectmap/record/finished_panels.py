"""From every finished panel of the record to the shop's memory, in three queries."""

from __future__ import annotations

import statistics
from collections import defaultdict

from sqlalchemy import select
from sqlalchemy.orm import Session

from defectmap.record import logbook, model
from defectmap.record.store import Store
from defectmap.trade.budget import spent_by
from defectmap.trade.facts import StepRecord
from defectmap.trade.memory import FinishedPanel
from defectmap.trade.stages import BASELINE, PROOF

Figures = tuple[float, float | None]  # density of marks, haze


def finished_panels(store: Store, *, but_job: str | None = None) -> tuple[FinishedPanel, ...]:
    """Every panel that was corrected as a whole and measured before and after, in any job.

    Parameters
    ----------
    but_job : str, optional
        Reference of a job that is left out: the one that is being worked on.
    """
    with store.reading() as session:
        steps = _whole_steps(session)
        figures = _figures(session)
        query = select(
            model.Panel.id, model.Panel.name, model.Panel.paint, model.Job.paint, model.Job.reference
        ).join(model.Job, model.Panel.job_id == model.Job.id)
        panels = session.execute(query.order_by(model.Job.created_at, model.Panel.position)).all()
    found = []
    for panel_id, name, own_paint, paint, job in panels:
        done = steps.get(panel_id, [])
        before, after = figures.get((panel_id, BASELINE), []), figures.get((panel_id, PROOF), [])
        if job == but_job or not done or not before or not after:
            continue
        minutes = [step.minutes for step in done if step.minutes is not None]
        haze = [value for _, value in after if value is not None]
        found.append(
            FinishedPanel(
                job=job,
                panel=name,
                paint=own_paint or paint,
                steps=tuple(step.rung or "" for step in done),
                before=statistics.fmean(value for value, _ in before),
                after=statistics.fmean(value for value, _ in after),
                haze_after=statistics.fmean(haze) if haze else None,
                minutes=sum(minutes) if len(minutes) == len(done) else None,
                removal_um=spent_by(done),
            )
        )
    return tuple(found)


def _whole_steps(session: Session) -> dict[str, list[StepRecord]]:
    from defectmap.record.rows import step_record

    query = select(logbook.Step).where(
        logbook.Step.kind == "correct", logbook.Step.spot_id.is_(None), logbook.Step.set_aside.is_(None)
    )
    found: dict[str, list[StepRecord]] = defaultdict(list)
    for row in session.scalars(query.order_by(logbook.Step.at, logbook.Step.id)):
        found[row.panel_id].append(step_record(row, spot=None))
    return found


def _figures(session: Session) -> dict[tuple[str, str], list[Figures]]:
    """The newest calibrated figures of each photograph that counts, by panel and stage."""
    query = (
        select(
            model.Spot.panel_id,
            model.Photograph.stage,
            model.Photograph.id,
            model.Measurement.every_mark,
            model.Measurement.haze,
        )
        .join(model.Photograph, model.Photograph.spot_id == model.Spot.id)
        .join(model.Measurement, model.Measurement.photograph_id == model.Photograph.id)
        .where(
            model.Photograph.stage.in_((BASELINE, PROOF)),
            model.Photograph.set_aside.is_(None),
            model.Measurement.refused.is_(None),
            model.Measurement.calibrated,
            model.Measurement.directions_share.is_(None),  # a film's density is another figure
        )
        .order_by(model.Measurement.made_at)
    )
    newest: dict[tuple[str, str, str], Figures] = {}
    for panel_id, stage, photograph_id, density, haze in session.execute(query):
        if density is not None:
            newest[panel_id, stage, photograph_id] = (density, haze)
    found: dict[tuple[str, str], list[Figures]] = defaultdict(list)
    for (panel_id, stage, _), figures in newest.items():
        found[panel_id, stage].append(figures)
    return found
