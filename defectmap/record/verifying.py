"""Verify a record: every original against its hash, every result against what made it. Nothing is changed."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from sqlalchemy import select, text
from sqlalchemy.exc import DatabaseError
from sqlalchemy.orm import Session, undefer

from defectmap.record import model
from defectmap.record.comparisons import comparison_problem
from defectmap.record.keeping import measurement_problem
from defectmap.record.measuring import BY_HAND, Failure, Progress, measure_one, request_of
from defectmap.record.rows import find_job
from defectmap.record.sealing import canonical, unpack
from defectmap.record.store import Store
from defectmap.versions import is_old


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing that verifying found; a `note` is worth knowing, but nothing is wrong."""

    kind: Literal[
        "original missing",
        "original altered",
        "result altered",
        "result not repeated",
        "database damaged",
        "older result",
        "stray file",
        "unfinished copy",
    ]
    where: str
    sentence: str

    @property
    def wrong(self) -> bool:
        """Whether something is wrong, in contrast to a note."""
        return self.kind not in ("older result", "stray file", "unfinished copy")


@dataclass(frozen=True, slots=True, kw_only=True)
class Verified:
    """What verifying looked at and found."""

    originals: int
    results: int
    findings: tuple[Finding, ...]

    @property
    def sound(self) -> bool:
        """Nothing wrong was found (notes do not count)."""
        return not any(finding.wrong for finding in self.findings)


def verify(
    store: Store, reference: str | None = None, *, again: bool = False, progress: Progress | None = None
) -> Verified:
    """Check one job, or the whole record.

    Parameters
    ----------
    reference : str, optional
        The job; the whole record, with its database and stray files, if not given.
    again : bool, optional
        Also measure again what was measured as this version measures, and hold the results together.
    progress : Progress, optional
        Told after each original.
    """
    with store.reading() as session:
        findings = list(_database(session)) if reference is None else []
        if any(finding.wrong for finding in findings):
            # Rows of a damaged database cannot be relied on to be read at all.
            return Verified(originals=0, results=0, findings=tuple(findings))
        photographs = _photographs(session, reference)
        hashes = {row.sha256: row.name for row in photographs}
        if reference is None:
            for sha256 in session.scalars(select(model.Original.sha256)):
                hashes.setdefault(sha256, sha256[:12])
        findings += _originals(store, hashes, progress)
        results = 0
        for row in photographs:
            for measurement in _measurements(session, row):
                results += 1
                found = list(_measurement(measurement, row))
                findings += found
                if again and not found:
                    findings += _again(store, measurement, row)
        for comparison, panel in _comparisons(session, reference):
            results += 1
            findings += _comparison(comparison, panel)
        if reference is None:
            findings += _strays(store, hashes)
    return Verified(originals=len(hashes), results=results, findings=tuple(findings))


def _database(session: Session) -> Iterator[Finding]:
    if session.get_bind().dialect.name != "sqlite":
        return  # the server checks its own pages
    try:
        answer = session.execute(text("PRAGMA integrity_check(5)")).scalars().all()
        if list(answer) != ["ok"]:
            yield _finding(
                "database damaged", "record.sqlite", f"{'; '.join(answer)}. Restore it from a copy."
            )
        for table, rowid, parent, _ in session.execute(text("PRAGMA foreign_key_check")):
            yield _finding(
                "database damaged",
                f"{table}, row {rowid}",
                f"It belongs to a {parent} that is not there. Restore the record from a copy.",
            )
    except DatabaseError as error:
        yield _finding("database damaged", "record.sqlite", f"{error.orig}. Restore it from a copy.")


def _photographs(session: Session, reference: str | None) -> list[model.Photograph]:
    query = select(model.Photograph).order_by(model.Photograph.added_at)
    if reference is not None:
        query = query.where(model.Photograph.job_id == find_job(session, reference).id)
    return list(session.scalars(query))


def _originals(store: Store, hashes: dict[str, str], progress: Progress | None) -> Iterator[Finding]:
    for done, (sha256, name) in enumerate(hashes.items(), start=1):
        state = store.originals.state(sha256)
        where = f"{name} ({sha256[:12]}…)"
        if state == "missing":
            yield _finding("original missing", where, "The kept photograph is gone. Restore it from a copy.")
        elif state == "altered":
            yield _finding(
                "original altered",
                where,
                "The kept photograph is not the one that was added. Restore it from a copy.",
            )
        if progress is not None:
            progress(done, len(hashes), name)


def _measurements(session: Session, row: model.Photograph) -> Iterator[model.Measurement]:
    yield from session.scalars(
        select(model.Measurement)
        .where(model.Measurement.photograph_id == row.id)
        .order_by(model.Measurement.made_at)
        .options(undefer(model.Measurement.body))
    )


def _measurement(measurement: model.Measurement, row: model.Photograph) -> Iterator[Finding]:
    problem = measurement_problem(measurement, row.sha256)
    if problem is not None:
        yield _finding("result altered", row.name, f"Its measurement: {problem}. Measure it again.")
    elif is_old(json.loads(measurement.settings)):
        yield _older(row.name, measurement.program_version)


def _again(store: Store, measurement: model.Measurement, row: model.Photograph) -> Iterator[Finding]:
    said = json.loads(measurement.settings)
    by_hand = {k: v for k, v in said.items() if k in BY_HAND}
    outcome = measure_one(request_of(store, row, by_hand, scale=said["scale"]))
    if isinstance(outcome, Failure):
        yield _finding("result not repeated", row.name, f"It could not be measured again: {outcome.why}.")
    elif canonical(outcome) != unpack(measurement.body):
        yield _finding(
            "result not repeated", row.name, "Measured again, it gives another result than the one stored."
        )


def _comparisons(session: Session, reference: str | None) -> Iterator[tuple[model.KeptComparison, str]]:
    query = (
        select(model.KeptComparison, model.Panel.name)
        .join(model.Panel, model.KeptComparison.panel_id == model.Panel.id)
        .options(undefer(model.KeptComparison.body))
    )
    if reference is not None:
        query = query.where(model.Panel.job_id == find_job(session, reference).id)
    yield from ((row, panel) for row, panel in session.execute(query))


def _comparison(row: model.KeptComparison, panel: str) -> Iterator[Finding]:
    where = f"{panel}, {row.before_stage} against {row.after_stage}"
    problem = comparison_problem(row)
    if problem is not None:
        yield _finding("result altered", where, f"The comparison: {problem}. Compare again.")
    elif is_old(json.loads(row.settings)):
        yield _older(where, row.program_version)


def _strays(store: Store, hashes: dict[str, str]) -> Iterator[Finding]:
    for where in store.originals.strays(hashes):
        yield _finding(
            "stray file", where, "No job knows this file; adding the same photograph again takes it up."
        )
    for path in store.originals.leftovers():
        yield _finding(
            "unfinished copy", str(path), "An interrupted copy; it is never used and may be removed."
        )


def _older(where: str, version: str) -> Finding:
    return _finding(
        "older result",
        where,
        f"Version {version} measured it in an earlier way; renew it to have it as this version does it.",
    )


def _finding(kind: str, where: str, sentence: str) -> Finding:
    return Finding(kind=kind, where=where, sentence=sentence)  # type: ignore[arg-type]
