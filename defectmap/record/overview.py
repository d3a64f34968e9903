"""A job at a glance: what is photographed, measured, read and done, panel by panel."""

from __future__ import annotations

import json
from collections import defaultdict
from dataclasses import dataclass

from sqlalchemy import select

from defectmap.record import model
from defectmap.record.history import load_histories
from defectmap.record.keeping import counts_for
from defectmap.record.rows import find_job, job_record, measurement_record, measurements_in, panels_in
from defectmap.record.store import Store
from defectmap.trade.facts import Figures, JobRecord, PanelHistory
from defectmap.trade.stages import STAGE_NAMES
from defectmap.versions import is_old


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotFigures:
    """The latest figures of one measured photograph of a panel at one stage."""

    spot: str
    photograph_id: str
    measurement_id: str
    at: str  # when it was taken, or added where the camera does not say
    figures: Figures  # of the photograph's own zone
    old: bool  # measured in an earlier way than this version measures
    figures_of: str = "own zone"  # of the photograph, where a comparison counts the common area

    @property
    def film(self) -> bool:
        """Whether it is of a film: marks of all lamp places, another density than a photograph's."""
        return self.figures.directions_share is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class StageOverview:
    """The photographs of one panel at one stage."""

    stage: str
    photographs: int
    refused: int
    measured: tuple[SpotFigures, ...]

    @property
    def unmeasured(self) -> int:
        """Photographs without any result."""
        return self.photographs - self.refused - len(self.measured)

    @property
    def counting(self) -> tuple[SpotFigures, ...]:
        """What the means below are of: the films where there are any, else the photographs; never both."""
        return tuple(one for one in self.measured if one.film) or self.measured

    @property
    def directions_share(self) -> float | None:
        """Mean share of directions that the films could show; None where the means are of photographs."""
        shares = [one.figures.directions_share for one in self.counting if one.film]
        return sum(share or 0.0 for share in shares) / len(shares) if shares else None

    @property
    def mean_density(self) -> float | None:
        """Mean density of all marks over what counts; None where there is none."""
        values = [m.figures.every_mark for m in self.counting if m.figures.every_mark is not None]
        return sum(values) / len(values) if values else None

    @property
    def mean_score(self) -> float | None:
        """Mean finish score over the measured photographs; None where there is none."""
        values = [m.figures.score for m in self.measured if m.figures.score is not None]
        return sum(values) / len(values) if values else None


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelOverview:
    """One panel: its stages that have photographs, in order, and its history."""

    history: PanelHistory
    stages: tuple[StageOverview, ...]
    photograph_warnings: int

    @property
    def stage(self) -> str | None:
        """The latest stage that the panel has reached, by photographs or by entry."""
        reached = {entry.stage for entry in self.history.stages} | {s.stage for s in self.stages}
        return max(reached, key=STAGE_NAMES.index, default=None)

    def at(self, stage: str) -> StageOverview | None:
        """The photographs of that stage, if there are any."""
        return next((entry for entry in self.stages if entry.stage == stage), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class JobOverview:
    """A job at a glance."""

    job: JobRecord
    panels: tuple[PanelOverview, ...]

    @property
    def photographs(self) -> int:
        """Photographs in the job."""
        return sum(stage.photographs for panel in self.panels for stage in panel.stages)

    @property
    def unmeasured(self) -> int:
        """Photographs that have no result yet."""
        return sum(stage.unmeasured for panel in self.panels for stage in panel.stages)

    @property
    def old(self) -> int:
        """Photographs that were measured in an earlier way; `measure` renews them on request."""
        return sum(one.old for panel in self.panels for stage in panel.stages for one in stage.measured)

    @property
    def refused(self) -> int:
        """Photographs that could not be measured."""
        return sum(stage.refused for panel in self.panels for stage in panel.stages)


def overview(store: Store, reference: str) -> JobOverview:
    """Look at a whole job; one consistent look, whatever others enter meanwhile.

    Raises
    ------
    NotInRecord
        There is no such job.
    """
    with store.reading() as session:
        job = find_job(session, reference)
        panels = panels_in(session, job)
        photographs = session.execute(
            select(model.Photograph, model.Spot.name, model.Spot.panel_id)
            .join(model.Spot, model.Photograph.spot_id == model.Spot.id)
            .where(model.Photograph.job_id == job.id, model.Photograph.set_aside.is_(None))
            .order_by(model.Spot.name, model.Photograph.added_at)
        ).all()
        latest = {
            row.photograph_id: row
            for row, photograph in measurements_in(session, job)
            if counts_for(row, photograph)
        }
        histories = load_histories(session, panels)
        record = job_record(job)
    of_panel: dict[str, dict[str, list[tuple[model.Photograph, str]]]] = defaultdict(
        lambda: defaultdict(list)
    )
    for photograph, spot, panel_id in photographs:
        of_panel[panel_id][photograph.stage].append((photograph, spot))
    return JobOverview(
        job=record, panels=tuple(_panel(history, of_panel[history.panel.id], latest) for history in histories)
    )


def _panel(
    history: PanelHistory,
    of_stage: dict[str, list[tuple[model.Photograph, str]]],
    latest: dict[str, model.Measurement],
) -> PanelOverview:
    stages = tuple(_stage(stage, of_stage[stage], latest) for stage in STAGE_NAMES if stage in of_stage)
    warned = sum(row.warnings != "[]" for rows in of_stage.values() for row, _ in rows)
    return PanelOverview(history=history, stages=stages, photograph_warnings=warned)


def _stage(
    stage: str, rows: list[tuple[model.Photograph, str]], latest: dict[str, model.Measurement]
) -> StageOverview:
    with_result = [(row, spot, latest[row.id]) for row, spot in rows if row.id in latest]
    return StageOverview(
        stage=stage,
        photographs=len(rows),
        refused=sum(result.refused is not None for _, _, result in with_result),
        measured=tuple(
            SpotFigures(
                spot=spot,
                photograph_id=row.id,
                measurement_id=result.id,
                at=row.taken_at or row.added_at,
                figures=measurement_record(result).figures,
                old=is_old(json.loads(result.settings)),
            )
            for row, spot, result in with_result
            if result.refused is None
        ),
    )
