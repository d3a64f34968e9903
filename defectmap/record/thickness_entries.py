"""Film thickness as it is entered: units and their slips, the stage of a reading, what explains a low one."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

from defectmap.errors import BadReading, JobError, NotInRecord
from defectmap.record import logbook
from defectmap.record.entries import earlier
from defectmap.record.history import load_histories
from defectmap.record.rows import checked_name, copied, find_entry, find_job, find_panel, new_id
from defectmap.record.store import Store
from defectmap.trade.facts import PanelHistory, ReadingRecord
from defectmap.trade.stages import BASELINE, PROOF, stage_named

Unit = Literal["um", "mil"]
UNITS = ("um", "mil")
UM_PER_MIL = 25.4  # exact: the inch is 25.4 mm by definition (ISO 80000-3 lists it)
# What car paint and repairs read at least and at most; beyond it the unit has slipped (our own caution: bare
# primer is about 20 µm, and hand gauges end at about 2000 µm).
USUAL_FILM_UM = (20.0, 2000.0)
MAX_FILM_UM = 5000.0


def to_um(value: float, unit: Unit, *, sure: bool = False) -> float:
    """A reading in µm.

    Parameters
    ----------
    sure : bool, optional
        Whether it was looked at again and is meant as it stands, however unusual.

    Raises
    ------
    BadReading
        The value is no thickness, the unit is not known, or the other unit is likely meant.

    Examples
    --------
    >>> to_um(4.0, "mil")
    101.6
    """
    if unit not in UNITS:
        raise BadReading(f"The unit {unit!r} is not known; give readings in um or mil.")
    um = value * UM_PER_MIL if unit == "mil" else value
    if not (math.isfinite(um) and 0 < um <= MAX_FILM_UM):
        raise BadReading(
            f"{value:g} {unit} cannot be a paint film; check the unit and the decimal point, or read again."
        )
    if not sure and not USUAL_FILM_UM[0] <= um <= USUAL_FILM_UM[1]:
        raise BadReading(_slip(value, unit))
    return um


def _slip(value: float, unit: Unit) -> str:
    """Ask about a reading whose unit or decimal point has likely slipped."""
    other: Unit = "um" if unit == "mil" else "mil"
    meant = value * UM_PER_MIL if other == "mil" else value
    if USUAL_FILM_UM[0] <= meant <= USUAL_FILM_UM[1]:
        in_um = "" if other == "um" else f" ({meant:.0f} um)"
        return f"{value:g} {unit} is no usual paint film: is it {value:g} {other}{in_um}? Give its unit."
    return (
        f"{value:g} {unit} is no usual paint film: look at the unit and the decimal point. If the gauge "
        "shows just that, say that you are sure."
    )


def add_readings(
    store: Store,
    reference: str,
    panel: str,
    place: str,
    values: tuple[float, ...],
    *,
    unit: Unit = "um",
    stage: str | None = None,
    again: bool = False,
    sure: bool = False,
    once_within_s: float = 0.0,
) -> tuple[ReadingRecord, ...]:
    """Keep gauge readings of one place (a circle of about 4 cm) on a panel; all of them or none.

    Parameters
    ----------
    stage : str, optional
        At which they were taken; if not given, before correction, or after it where one is recorded.
    again : bool, optional
        A second look exactly where the lowest of this place was read.
    sure : bool, optional
        Unusual values are meant as they stand.
    once_within_s : float, optional
        The same readings entered this short a time ago are a second press: they are given back.

    Raises
    ------
    BadReading
        A value cannot be a paint film, or its unit has likely slipped; the message repeats every value, so
        that none has to be read again.
    """
    in_um = _all_in_um(values, unit, sure=sure)
    place = checked_name(place, "place")
    with store.writing() as session:
        job = find_job(session, reference)
        row = find_panel(session, job, panel)
        (history,) = load_histories(session, [row])
        since = earlier(store.clock(), seconds=once_within_s)
        just = tuple(r for r in history.readings if r.place == place and r.at > since)
        if once_within_s and [r.value_um for r in just] == in_um:
            return just
        name = _stage_now(history) if stage is None else stage_named(stage)
        rows = [
            logbook.Reading(
                id=new_id(),
                panel_id=row.id,
                place=place,
                value_um=um,
                entered=f"{value:g} {unit}",
                at=store.clock(),
                set_aside=None,
                stage=name,
                again=again,
                explained=None,
            )
            for um, value in zip(in_um, values, strict=True)
        ]
        session.add_all(rows)
    return tuple(copied(ReadingRecord, row, job=reference) for row in rows)


def explain_reading(store: Store, reference: str, reading_id: str, *, why: str) -> ReadingRecord:
    """Say what makes a reading low: an edge, a repair. It no longer rules its place, and stays in the record.

    Raises
    ------
    JobError
        No reason is given.
    NotInRecord
        The job has no such reading.
    """
    if not why.strip():
        raise JobError("Say what explains the reading, such as an edge or a repair; the record keeps it.")
    with store.writing() as session:
        job = find_job(session, reference, lock=True)
        row = find_entry(session, logbook.Reading, reading_id, job, "reading")
        row.explained = why.strip()
    return copied(ReadingRecord, row, job=reference)


def lowest_reading(store: Store, reference: str, panel: str, place: str) -> ReadingRecord:
    """The lowest reading of a place that nothing explains yet.

    Raises
    ------
    NotInRecord
        There is none.
    """
    found = unexplained_readings(store, reference, panel, place)
    if not found:
        with store.reading() as session:
            (history,) = load_histories(session, [find_panel(session, find_job(session, reference), panel)])
        places = ", ".join(dict.fromkeys(r.place for r in history.readings)) or "none"
        raise NotInRecord(f"{panel} has no reading at {place!r} that is not explained; its places: {places}.")
    return min(found, key=lambda reading: reading.value_um)


def unexplained_readings(store: Store, reference: str, panel: str, place: str) -> list[ReadingRecord]:
    """The readings of a place in this job that nothing explains yet, oldest first."""
    with store.reading() as session:
        (history,) = load_histories(session, [find_panel(session, find_job(session, reference), panel)])
    return [one for one in history.readings if one.place == place and not one.explained]


def _all_in_um(values: Sequence[float], unit: Unit, *, sure: bool) -> list[float]:
    try:
        return [to_um(value, unit, sure=sure) for value in values]
    except BadReading as error:
        listed = " ".join(f"{value:g}" for value in values)
        raise BadReading(f"{error} Nothing was entered; the readings were: {listed} {unit}.") from None


def _stage_now(history: PanelHistory) -> str:
    polished = any(step.kind == "correct" for step in history.steps)
    return PROOF if polished else BASELINE
