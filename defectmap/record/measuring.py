"""Measure what is unmeasured, and keep each result with what made it.

The measuring function is handed in: it takes a `PhotoRequest` and gives the result as a plain mapping (the
JSON of `defectmap measure`), or raises `PhotoError`. With several workers it must be importable by name.
"""

from __future__ import annotations

import json
import multiprocessing
import os
import threading
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from itertools import islice
from multiprocessing import get_context
from pathlib import Path
from typing import Any, Protocol

from sqlalchemy import exists, select
from sqlalchemy.orm import Session

from defectmap.errors import JobError, PhotoError
from defectmap.record import model
from defectmap.record.keeping import figures_of
from defectmap.record.originals import state_of
from defectmap.record.rows import find_job, measurement_record, new_id
from defectmap.record.sealing import canonical, pack, seal_of, sha256_of_text
from defectmap.record.store import Store
from defectmap.trade.facts import Figures, MeasurementRecord


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoRequest:
    """One kept photograph to be measured."""

    photograph_id: str
    path: Path  # of the kept original: it has no suffix
    name: str  # as it was called when it was added
    sha256: str
    px_per_mm: float | None
    field_width_mm: float | None
    settings: Mapping[str, Any]


BY_HAND = ("corrections", "revision")  # settings that a person made, see `corrections`

MeasureFunction = Callable[[PhotoRequest], Mapping[str, Any]]


class Progress(Protocol):
    """Told after each photograph; the terminal and the page each draw it their way."""

    def __call__(self, done: int, total: int, what: str) -> None:
        """`done` of `total` are finished; `what` was the last."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """What became of a run."""

    measured: int
    refused: tuple[str, ...]  # names, with why
    failed: tuple[str, ...]  # names, with why: original gone wrong, or a fault; nothing is stored for these


def measure_missing(
    store: Store,
    reference: str,
    *,
    measure: MeasureFunction,
    program_version: str,
    settings: Mapping[str, Any] | None = None,
    renew: bool = False,
    workers: int = 1,
    progress: Progress | None = None,
) -> Measured:
    """Measure each photograph of a job that has no result yet; every result is kept as soon as it is there.

    Parameters
    ----------
    measure : callable
        From `PhotoRequest` to the result as a mapping.
    program_version : str
        Kept with each result.
    settings : mapping, optional
        Handed to `measure` and kept with each result; the typed scale of each photograph is added.
    renew : bool
        Also measure those whose results come from another version or other settings; old results stay.
    workers : int
        Processes; 0 for one a core. 1 measures in this process.
    progress : Progress, optional
        Told after each photograph.

    Raises
    ------
    JobError
        A worker process died (usually because memory ran out); what was finished is kept.
    """
    requests = _unmeasured(store, reference, dict(settings or {}), program_version, renew)
    refused: list[str] = []
    failed: list[str] = []
    done = 0
    for request, result in _results(requests, measure, workers):
        if isinstance(result, Failure):
            failed.append(f"{request.name}: {result.why}")
        else:
            stored = keep_result(store, request, result, program_version)
            if stored.refused is not None:
                refused.append(f"{request.name}: {stored.refused}")
        done += 1
        if progress is not None:
            progress(done, len(requests), request.name)
    return Measured(measured=done - len(refused) - len(failed), refused=tuple(refused), failed=tuple(failed))


def request_settings(request: PhotoRequest) -> str:
    """Canonical JSON of all that decides the result besides the photograph and the version."""
    scale = {"px_per_mm": request.px_per_mm, "field_width_mm": request.field_width_mm}
    return canonical({**request.settings, "scale": scale})


def _unmeasured(
    store: Store, reference: str, settings: dict[str, Any], program_version: str, renew: bool
) -> list[PhotoRequest]:
    with store.reading() as session:
        job = find_job(session, reference)
        query = (
            select(model.Photograph)
            .where(model.Photograph.job_id == job.id, model.Photograph.set_aside.is_(None))
            .order_by(model.Photograph.added_at, model.Photograph.id)
        )
        if not renew:
            query = query.where(~exists().where(model.Measurement.photograph_id == model.Photograph.id))
        photographs = session.scalars(query).all()
        if not renew:
            return [request_of(store, row, settings) for row in photographs]
        by_hand = made_by_hand(session, job)
        requests = [request_of(store, row, {**settings, **by_hand.get(row.id, {})}) for row in photographs]
        keys = select(model.Measurement.photograph_id, model.Measurement.settings_sha256)
        of_version = keys.where(model.Measurement.program_version == program_version)
        made = {(photo_id, settings_hash) for photo_id, settings_hash in session.execute(of_version)}
    return [r for r in requests if (r.photograph_id, sha256_of_text(request_settings(r))) not in made]


def made_by_hand(session: Session, job: model.Job) -> dict[str, dict[str, Any]]:
    """What was corrected by hand in the latest result of each photograph; renewing and comparing keep to it.

    Returns
    -------
    dict of str to dict
        By the photograph's identity: those of its latest result's settings that are named in `BY_HAND`.
    """
    latest = session.execute(
        select(model.Measurement.photograph_id, model.Measurement.settings)
        .join(model.Photograph, model.Measurement.photograph_id == model.Photograph.id)
        .where(model.Photograph.job_id == job.id)
        .order_by(model.Measurement.made_at)
    )
    found = {photograph_id: json.loads(settings) for photograph_id, settings in latest}
    return {
        key: {name: settings[name] for name in BY_HAND if name in settings} for key, settings in found.items()
    }


def request_of(store: Store, row: model.Photograph, settings: Mapping[str, Any]) -> PhotoRequest:
    """The request that measures one photograph of the record."""
    return PhotoRequest(
        photograph_id=row.id,
        path=store.originals.path(row.sha256),
        name=row.name,
        sha256=row.sha256,
        px_per_mm=row.px_per_mm,
        field_width_mm=row.field_width_mm,
        settings=settings,
    )


@dataclass(frozen=True, slots=True)
class Failure:
    """Why a photograph could not even be tried; nothing is stored for it."""

    why: str


Outcome = Mapping[str, Any] | Failure


def _results(
    requests: list[PhotoRequest], measure: MeasureFunction, workers: int
) -> Iterator[tuple[PhotoRequest, Outcome]]:
    count = min(workers if workers > 0 else os.cpu_count() or 1, max(1, len(requests)))
    if count == 1:
        for request in requests:
            yield request, measure_one(request, measure)
        return
    # Fresh processes (spawn) behave alike on every system and inherit no database connection.
    with ProcessPoolExecutor(count, mp_context=get_context("spawn"), initializer=_end_with_parent) as pool:
        try:
            yield from _windowed(pool, requests, measure, size=2 * count)
        except BrokenProcessPool as error:
            raise JobError(
                "A measuring process died, usually because memory ran out; what was finished is kept. "
                "Run it again with fewer workers."
            ) from error
        finally:
            pool.shutdown(wait=True, cancel_futures=True)  # in an error: let no worker start another


def _windowed(
    pool: ProcessPoolExecutor, requests: list[PhotoRequest], measure: MeasureFunction, *, size: int
) -> Iterator[tuple[PhotoRequest, Outcome]]:
    """Keep only so many in work: results are large, and thousands of photographs would fill the memory."""
    left = iter(requests)
    waiting: dict[Future[Outcome], PhotoRequest] = {}
    while True:
        for request in islice(left, size - len(waiting)):
            waiting[pool.submit(measure_one, request, measure)] = request
        if not waiting:
            return
        done, _ = wait(waiting, return_when=FIRST_COMPLETED)
        for future in done:
            yield waiting.pop(future), future.result()


def _end_with_parent() -> None:
    """End this worker when the program that started it is gone, else a killed run leaves workers behind."""
    parent = multiprocessing.parent_process()

    def wait_for_it() -> None:
        if parent is not None:
            parent.join()
            os._exit(1)

    threading.Thread(target=wait_for_it, daemon=True).start()


def measure_one(request: PhotoRequest, measure: MeasureFunction) -> Outcome:
    """Measure one photograph (in a worker); a refusal becomes a result that says why."""
    state = state_of(request.path, request.sha256)
    if state != "whole":
        return Failure(f"the kept original is {state}; run verify")
    try:
        return measure(request)
    except PhotoError as error:
        return {
            "schema": 1,
            "photo": {"name": request.name, "sha256": request.sha256},
            "refused": str(error),
        }
    except Exception as error:  # a fault of ours in one photograph must not cost the other thousand
        return Failure(f"unexpected {type(error).__name__}: {error}; please report this")


def keep_result(
    store: Store, request: PhotoRequest, result: Mapping[str, Any], program_version: str
) -> MeasurementRecord:
    """Keep a result; where the same version with the same settings has kept one already, that one stays.

    Parameters
    ----------
    request : PhotoRequest
        What was measured, with the settings that made the result.
    result : mapping
        In the form of `defectmap measure --json`.
    """
    words = canonical(result)
    settings = request_settings(request)
    refused = result.get("refused")
    row = model.Measurement(
        id=new_id(),
        photograph_id=request.photograph_id,
        program_version=program_version,
        settings=settings,
        settings_sha256=sha256_of_text(settings),
        made_at=store.clock(),
        refused=None if refused is None else str(refused),
        seal=seal_of(words, of=(request.sha256,), program_version=program_version, settings=settings),
        body=pack(words),
    )
    for name in Figures.__dataclass_fields__:
        setattr(row, name, getattr(figures_of(result), name))
    with store.writing() as session:
        # The photograph's row is the lock: two bays that measured the same photograph keep one result.
        session.scalars(
            select(model.Photograph).where(model.Photograph.id == request.photograph_id).with_for_update()
        ).one()
        there = session.scalars(
            select(model.Measurement).where(
                model.Measurement.photograph_id == row.photograph_id,
                model.Measurement.program_version == row.program_version,
                model.Measurement.settings_sha256 == row.settings_sha256,
            )
        ).one_or_none()
        if there is None:
            session.add(row)
    return measurement_record(there or row)
