"""The life of a car's paint: thickness by place over the years, and what came off altogether."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import select

from defectmap.record import model
from defectmap.record.history import load_histories
from defectmap.record.rows import find_vehicle, panels_in
from defectmap.record.store import Store
from defectmap.trade.budget import budget_for, spent_on
from defectmap.trade.facts import PanelHistory, ReadingRecord
from defectmap.trade.lowest import Session, lowest_of, sessions_of
from defectmap.trade.surface import surface_of
from defectmap.trade.table_forms import Gauge, Range
from defectmap.trade.tables import TradeTables
from defectmap.trade.thickness import life_readings, panel_thickness


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceThen:
    """The readings of one place at one stage of one job."""

    panel: str
    place: str
    job: str
    stage: str
    at: str  # of the latest of them, ISO 8601
    lowest_um: float  # that counts; of all where every one is explained
    not_repeated_um: tuple[float, ...]  # low ones that two further readings did not bear out
    readings: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelLife:
    """What came off the present paint of a panel, and what may still."""

    panel: str
    spent_um: Range
    left_um: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Life:
    """A car's paint over its life."""

    readings: tuple[PlaceThen, ...]  # by panel, place and time
    panels: tuple[PanelLife, ...]


def life_of(store: Store, vehicle: str, tables: TradeTables, *, today: date | None = None) -> Life:
    """Look at the whole life of a vehicle's paint, as its latest visit has the panels."""
    with store.reading() as session:
        car = find_vehicle(session, vehicle)
        jobs = session.scalars(
            select(model.Job).where(model.Job.vehicle_id == car.id).order_by(model.Job.created_at)
        ).all()
        newest: dict[str, PanelHistory] = {}
        for job in jobs:
            histories = load_histories(session, panels_in(session, job))
            newest |= {found.panel.name: found for found in histories}
        paints = {job.id: job.paint for job in jobs}
    day = today or date.today()
    readings = [one for found in newest.values() for one in _places(found, tables.gauge)]
    lives = []
    for found in newest.values():
        film = panel_thickness(found.panel.name, life_readings(found), tables.film, tables.gauge)
        surface = surface_of(found.panel, paints[found.panel.job_id], tables, today=day)
        budget = budget_for(found, film, tables.film, tables.gauge, surface=surface)
        lives.append(PanelLife(panel=found.panel.name, spent_um=spent_on(found), left_um=budget.left_um))
    return Life(readings=tuple(readings), panels=tuple(lives))


def _places(history: PanelHistory, gauge: Gauge) -> list[PlaceThen]:
    by_place: dict[str, list[ReadingRecord]] = {}
    for reading in (*history.earlier_readings, *history.readings):
        by_place.setdefault(reading.place, []).append(reading)
    return [
        _then(history.panel.name, place, session, gauge)
        for place, own in by_place.items()
        for session in sessions_of(own)
    ]


def _then(panel: str, place: str, session: Session, gauge: Gauge) -> PlaceThen:
    found = lowest_of([session], gauge)
    lowest = found.lowest_um
    return PlaceThen(
        panel=panel,
        place=place,
        job=session[-1].job,
        stage=session[-1].stage,
        at=session[-1].at,
        lowest_um=min(one.value_um for one in session) if lowest is None else lowest,
        not_repeated_um=found.not_repeated_um,
        readings=len(session),
    )
