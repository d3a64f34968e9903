"""Measure what is unmeasured, in several processes, and keep each result with what made it.

A film is a photograph to the record: another file for a spot and a stage.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from sqlalchemy import select
from sqlalchemy.orm import Session

from defectmap.errors import OriginalsUnreachable, PhotoError
from defectmap.record import model, shelf
from defectmap.record.corrections import corrected, corrections_in
from defectmap.record.filming import telling
from defectmap.record.keeping import counts_for, keep_result
from defectmap.record.leases import Leased
from defectmap.record.originals import KeptOriginal
from defectmap.record.rows import find_job, measurements_in
from defectmap.record.sealing import canonical, sha256_of_text
from defectmap.record.sharing import Claims, shared_results
from defectmap.record.shelf import panel_of
from defectmap.record.store import Store
from defectmap.trade.facts import PhotographRecord
from defectmap.versions import MEASURING

if TYPE_CHECKING:
    from defectmap.record.shelf import Whole

BY_HAND = ("corrections", "revision")  # settings that a person made, see `corrections`
FEWEST_FOR_WORKERS = 4  # below, starting processes takes longer than it saves
A_FILM = 2  # photographs that a film stands for there: two films already are worth two processes


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoRequest:
    """One kept photograph to be measured."""

    photograph_id: str
    original: KeptOriginal
    name: str  # as it was called when it was added
    sha256: str
    px_per_mm: float | None
    field_width_mm: float | None
    settings: Mapping[str, Any]
    shelf: Path  # where the whole measurement is put
    film: bool = False

    @property
    def path(self) -> Path:
        """The kept original or, once it was brought, its copy on this computer; it has no suffix."""
        return self.original.path


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


def measure_photograph(request: PhotoRequest) -> Mapping[str, Any]:
    """Measure one kept photograph, with what was corrected by hand; the whole goes on the shelf.

    Raises
    ------
    PhotoError
        It cannot be measured; the message says why.
    """
    from defectmap.panel.codec import measurement_record

    return measurement_record(corrected(panel_of(measured_whole(request)), corrections_in(request.settings)))


def measured_whole(request: PhotoRequest) -> Whole:
    """Measure one kept photograph or film, before any correction, and put it on the shelf."""
    measured = film_measured(request) if request.film else _measured_photograph(request)
    shelf.put(measured, request.shelf)
    return measured


def _measured_photograph(request: PhotoRequest) -> Whole:
    from defectmap.panel.measure import measure

    return measure(
        request.path.read_bytes(),
        px_per_mm=request.px_per_mm,
        field_width_mm=request.field_width_mm,
        name=request.name,
    )


def film_measured(request: PhotoRequest) -> Whole:
    """Measure a film, telling how far it is to whoever looks (`filming.under_way`)."""
    from defectmap.film.measure_film import measure_film

    with telling(request.shelf) as tell:
        return measure_film(
            request.path,
            px_per_mm=request.px_per_mm,
            field_width_mm=request.field_width_mm,
            name=request.name,
            progress=tell,
        )


def measure_job(
    store: Store,
    reference: str,
    *,
    renew: bool = False,
    workers: int | None = None,
    progress: Progress | None = None,
    measure: MeasureFunction | None = None,
) -> Measured:
    """Measure each photograph of a job that has no result yet; every result is kept as soon as it is there.

    Several runs, in several bays, may be at one job: each photograph is measured by one of them, and all end
    when the last one is done.

    Parameters
    ----------
    renew : bool
        Also measure those that were measured in an earlier way; old results stay.
    workers : int, optional
        Processes; 0 for one a core, 1 to measure in this process; as many as pay if not given.
    progress : Progress, optional
        Told after each photograph.
    measure : callable, optional
        Another way of measuring, for tests; with several workers it must be importable by name.

    Raises
    ------
    JobError
        A worker process died (usually because memory ran out); what was finished is kept.
    """
    requests = _unmeasured(store, reference, renew=renew)
    if workers is None:
        weight = sum(A_FILM if one.film else 1 for one in requests)
        workers = 0 if weight >= FEWEST_FOR_WORKERS else 1
    refused: list[str] = []
    failed: list[str] = []
    done = 0
    claims = Claims(store, [(one, _item(one)) for one in requests])
    for request, result in shared_results(claims, partial(measure_one, measure=measure), workers):
        if isinstance(result, Failure):
            failed.append(f"{request.name}: {result.why}")
        elif result is not None and (why := keep(store, request, result)) is not None:
            refused.append(f"{request.name}: {why}")
        done += 1
        if progress is not None:
            progress(done, len(requests), request.name)
    return Measured(measured=done - len(refused) - len(failed), refused=tuple(refused), failed=tuple(failed))


def keep(store: Store, request: PhotoRequest, result: Mapping[str, Any]) -> str | None:
    """Keep a result of that request; why it was refused, None where it was measured."""
    settings = request_settings(request)
    return keep_result(store, request.photograph_id, result, sha256=request.sha256, settings=settings).refused


def request_settings(request: PhotoRequest) -> str:
    """Canonical JSON of all that decides the result besides the photograph."""
    scale = {"px_per_mm": request.px_per_mm, "field_width_mm": request.field_width_mm}
    return canonical({**request.settings, "scale": scale, "measuring": MEASURING})


def _item(request: PhotoRequest) -> Leased:
    return Leased(
        photograph_id=request.photograph_id, settings_sha256=sha256_of_text(request_settings(request))
    )


def _unmeasured(store: Store, reference: str, *, renew: bool) -> list[PhotoRequest]:
    with store.reading() as session:
        job = find_job(session, reference)
        query = (
            select(model.Photograph)
            .where(model.Photograph.job_id == job.id, model.Photograph.set_aside.is_(None))
            .order_by(model.Photograph.added_at, model.Photograph.id)
        )
        by_hand = made_by_hand(session, job)
        requests = [request_of(store, row, by_hand.get(row.id, {})) for row in session.scalars(query)]
        made = measurements_in(session, job)
    if renew:
        there = {(row.photograph_id, row.settings_sha256) for row, _ in made}
        return [r for r in requests if (r.photograph_id, sha256_of_text(request_settings(r))) not in there]
    measured = {photograph.id for row, photograph in made if counts_for(row, photograph)}
    return [r for r in requests if r.photograph_id not in measured]


def made_by_hand(session: Session, job: model.Job) -> dict[str, dict[str, Any]]:
    """What was corrected by hand in the latest result of each photograph; renewing and comparing keep to it.

    Returns
    -------
    dict of str to dict
        By the photograph's identity: those of its latest result's settings that are named in `BY_HAND`.
    """
    found = {row.photograph_id: json.loads(row.settings) for row, _ in measurements_in(session, job)}
    return {
        key: {name: settings[name] for name in BY_HAND if name in settings} for key, settings in found.items()
    }


def request_of(
    store: Store,
    row: model.Photograph | PhotographRecord,
    settings: Mapping[str, Any],
    *,
    scale: Mapping[str, float | None] | None = None,
) -> PhotoRequest:
    """The request that measures one photograph of the record.

    Parameters
    ----------
    settings : mapping
        What was corrected by hand.
    scale : mapping, optional
        `px_per_mm` and `field_width_mm` of an earlier result; those of the photograph if not given.
    """
    typed = scale or {"px_per_mm": row.px_per_mm, "field_width_mm": row.field_width_mm}
    return PhotoRequest(
        photograph_id=row.id,
        original=store.originals.kept(row.sha256),
        name=row.name,
        sha256=row.sha256,
        settings=settings,
        film=row.film,
        shelf=shelf.place_of(store.folder, row.sha256, **typed),
        **typed,
    )


@dataclass(frozen=True, slots=True)
class Failure:
    """Why a photograph could not even be tried; nothing is stored for it."""

    why: str


Outcome = Mapping[str, Any] | Failure


def measure_one(request: PhotoRequest, measure: MeasureFunction | None = None) -> Outcome:
    """Measure one photograph (in a worker); a refusal becomes a result that says why."""
    try:
        state = request.original.bring()
    except OriginalsUnreachable as error:
        return Failure(str(error))
    if state != "whole":
        return Failure(f"the kept original is {state}; run verify")
    try:
        return (measure or measure_photograph)(request)
    except PhotoError as error:
        return {"schema": 1, "photo": {"name": request.name, "sha256": request.sha256}, "refused": str(error)}
    except Exception as error:  # a fault of ours in one photograph must not cost the other thousand
        return Failure(f"unexpected {type(error).__name__}: {error}; please report this")
