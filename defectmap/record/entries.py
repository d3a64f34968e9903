"""What is entered at the car: readings, steps, stages; and setting aside what was entered by mistake."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any, Literal

from defectmap.errors import JobError
from defectmap.record import logbook, model
from defectmap.record.history import load_histories
from defectmap.record.rows import (
    find_entry,
    find_job,
    find_panel,
    new_id,
    spot_of,
    stage_record,
    step_record,
    stored_gates,
)
from defectmap.record.store import Store
from defectmap.trade.facts import StageRecord, StepRecord
from defectmap.trade.stages import STEP_KINDS, gates_for_stage, gates_for_step, stage_named
from defectmap.trade.table_forms import Rung

EntryKind = Literal["photograph", "reading", "step", "damage"]
_TABLES: Mapping[EntryKind, Any] = {
    "photograph": model.Photograph,
    "reading": logbook.Reading,
    "step": logbook.Step,
    "damage": logbook.Damage,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class StepSpec:
    """One step to be recorded; removal in µm for all sets together, low and high end."""

    kind: str
    rung: str | None = None
    product: str = ""
    pad: str = ""
    machine: str = ""
    sets: int = 1
    section_s: float | None = None
    by: str = ""
    minutes: float | None = None
    removal_low_um: float = 0.0
    removal_high_um: float = 0.0


def spec_of(
    kind: str,
    rung: Rung | None = None,
    *,
    sets: int = 1,
    section_s: float | None = None,
    minutes: float | None = None,
    product: str = "",
    pad: str = "",
    machine: str = "",
    by: str = "",
) -> StepSpec:
    """A step to be recorded; a correction takes pad, machine, time and removal from the tables.

    Parameters
    ----------
    rung : Rung, optional
        Which correction step it was.
    sets : int, optional
        One set is one working of a section: four to six movements.
    pad, machine : str, optional
        Where they differ from the tables.
    """
    spec = StepSpec(
        kind=kind, product=product.strip(), pad=pad, machine=machine, by=by.strip(), minutes=minutes
    )
    if rung is None:
        return replace(spec, section_s=section_s)
    return replace(
        spec,
        rung=rung.key,
        pad=pad or rung.pad,
        machine=machine or rung.machine,
        sets=sets,
        section_s=section_s or rung.section_s,
        removal_low_um=rung.removal_um.low * sets,
        removal_high_um=rung.removal_um.high * sets,
    )


def moment(words: str) -> str:
    """A day and time as the record writes them: in UTC.

    Parameters
    ----------
    words : str
        ISO 8601; without a zone it is this computer's.

    Raises
    ------
    JobError
        It is no day and time.

    Examples
    --------
    >>> moment("2026-05-12T14:51+02:00")
    '2026-05-12T12:51:00.000000+00:00'
    """
    try:
        return datetime.fromisoformat(words).astimezone(UTC).isoformat(timespec="microseconds")
    except (ValueError, OverflowError) as error:
        raise JobError(f"{words!r} is not a valid date and time; write it as 2026-05-12T14:51.") from error


def add_step(
    store: Store,
    reference: str,
    panel: str,
    spec: StepSpec,
    *,
    spot: str | None = None,
    ladder: tuple[str, ...] = (),
    at: str | None = None,
    once_within_s: float = 0.0,
) -> StepRecord:
    """Record what was done to a panel, or to one spot of it, with the gates that were open.

    Parameters
    ----------
    spot : str, optional
        Name of the spot for a test spot; the whole panel otherwise.
    ladder : tuple of str
        Keys of the correction steps, least aggressive first, to warn of gentler ones untried.
    at : str, optional
        When it was done, as `moment` writes it; now if not given. Photographs are held against it by the
        camera's clock.
    once_within_s : float, optional
        The same step entered this short a time ago is a second press of the same button: it is given back.

    Raises
    ------
    JobError
        The kind of step is not known, or a number in it cannot be right.
    """
    _check_step(spec)
    with store.writing() as session:
        job = find_job(session, reference, lock=True)
        row = find_panel(session, job, panel)
        (history,) = load_histories(session, [row])
        since = earlier(store.clock(), seconds=once_within_s)
        for pressed in history.steps:
            if once_within_s and pressed.at > since and _same(pressed, spec, spot):
                return pressed
        gates = gates_for_step(history, spec.kind, spot=spot, rung=spec.rung, ladder=ladder, paint=job.paint)
        step = logbook.Step(
            id=new_id(),
            panel_id=row.id,
            spot_id=None if spot is None else spot_of(session, row, spot).id,
            **asdict(spec),
            warnings=stored_gates(gates),
            at=at or store.clock(),
            set_aside=None,
        )
        session.add(step)
    return step_record(step, spot=spot)


def earlier(at: str, *, seconds: float) -> str:
    """A moment so long before another one, as the record writes it.

    Examples
    --------
    >>> earlier("2026-05-12T12:51:00.000000+00:00", seconds=5)
    '2026-05-12T12:50:55.000000+00:00'
    """
    then = datetime.fromisoformat(at) - timedelta(seconds=seconds)
    return then.isoformat(timespec="microseconds")


def _same(step: StepRecord, spec: StepSpec, spot: str | None) -> bool:
    entered = (step.kind, step.spot, step.rung, step.product, step.sets)
    return entered == (spec.kind, spot, spec.rung, spec.product, spec.sets)


def enter_stage(store: Store, reference: str, panel: str, stage: str) -> StageRecord:
    """Record that a panel enters a stage, with the gates that were open then."""
    stage = stage_named(stage)
    with store.writing() as session:
        row = find_panel(session, find_job(session, reference, lock=True), panel)
        (history,) = load_histories(session, [row])
        gates = gates_for_stage(history, stage)
        entry = logbook.StageEntry(
            id=new_id(), panel_id=row.id, stage=stage, warnings=stored_gates(gates), at=store.clock()
        )
        session.add(entry)
    return stage_record(entry)


def set_aside(store: Store, reference: str, what: EntryKind, entry_id: str, *, why: str) -> None:
    """Take an entry out of every figure, rule and paper; it stays in the record with the reason.

    Raises
    ------
    NotInRecord
        The job has no such entry.
    """
    if not why.strip():
        raise JobError("Say why it is removed; the record keeps the reason.")
    with store.writing() as session:
        job = find_job(session, reference, lock=True)
        find_entry(session, _TABLES[what], entry_id, job, what).set_aside = why.strip()


def _check_step(spec: StepSpec) -> None:
    if spec.kind not in STEP_KINDS:
        raise JobError(f"{spec.kind!r} is not a valid step; use one of: {', '.join(STEP_KINDS)}.")
    if not 1 <= spec.sets <= 100:
        raise JobError(f"{spec.sets} sets cannot be right; give 1 to 100.")
    if not 0 <= spec.removal_low_um <= spec.removal_high_um < math.inf:
        raise JobError("The expected removal has a low end above its high end, or below 0; correct it.")
    if spec.minutes is not None and not 0 <= spec.minutes < 10_000:
        raise JobError(f"{spec.minutes:g} minutes of work cannot be right; give them in minutes.")
    if spec.section_s is not None and not 0 < spec.section_s < 86400:
        raise JobError(f"A section time of {spec.section_s:g} s cannot be right; give it in seconds.")
