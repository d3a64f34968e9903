"""A whole job in one file, and back: export and import, with a manifest of hashes.

Importing checks everything before it writes anything, and never overwrites: not an original, not a job.
"""

from __future__ import annotations

import json
import os
import shutil
import uuid
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from sqlalchemy import Table, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from defectmap import __version__
from defectmap.errors import AlreadyInRecord, JobError, OriginalDamaged, UnsafeArchive
from defectmap.record import logbook, model
from defectmap.record.archive import JOB, MANIFEST, ORIGINAL_NAME, JobArchive, open_archive
from defectmap.record.comparisons import comparison_problem
from defectmap.record.disk_originals import link_new
from defectmap.record.keeping import measurement_problem
from defectmap.record.rows import find_job, job_record, new_id
from defectmap.record.sealing import canonical, pack, sha256_of_text, unpack
from defectmap.record.store import Store
from defectmap.record.wire import BODY, JobFile, parse_job, parse_manifest
from defectmap.trade.facts import JobRecord

SCHEMA = 1
EPOCH = (1980, 1, 1, 0, 0, 0)  # the same job gives the same bytes


def export_job(store: Store, reference: str, target: Path, *, with_customer: bool = False) -> Path:
    """Write a job with its originals and results into one file.

    Whose vehicle it is, and what was signed, stay in the record.

    Parameters
    ----------
    target : Path
        File to be written; must not exist.
    with_customer : bool, optional
        Whether the job's reference to the customer goes with it.

    Raises
    ------
    AlreadyInRecord
        The file exists.
    OriginalDamaged
        An original is missing or altered; nothing is written.
    """
    if target.exists():
        raise AlreadyInRecord(f"{target} exists and was left alone; choose another name.")
    with store.reading() as session:
        rows = _rows_of(session, find_job(session, reference))
    if not with_customer:
        rows["job"][0]["customer"] = ""
    _refuse_altered(rows)
    results = {
        row["id"]: unpack(row.pop(BODY)) for table in ("measurement", "comparison") for row in rows[table]
    }
    for original in rows["original"]:
        state = store.originals.kept(original["sha256"]).bring()
        if state != "whole":
            raise OriginalDamaged(
                f"The original {original['sha256'][:12]}… is {state}; restore it from a copy, then export."
            )
    unfinished = target.with_name(f".{target.name}.{uuid.uuid4().hex}.part")
    try:
        _write(unfinished, store, rows, results)
        link_new(unfinished, target)
    except FileExistsError:
        raise AlreadyInRecord(f"{target} exists and was left alone; choose another name.") from None
    except OSError as error:
        raise JobError(f"{target} cannot be written ({error.strerror}); choose another place.") from error
    finally:
        unfinished.unlink(missing_ok=True)
    return target


def import_job(store: Store, source: Path, *, as_reference: str | None = None) -> JobRecord:
    """Take a job file into the record.

    Parameters
    ----------
    as_reference : str, optional
        Import it as a copy under this reference (all identities are made new).

    Raises
    ------
    UnsafeArchive
        The file is damaged, is no job file, or tries tricks; nothing was written.
    AlreadyInRecord
        The job, or one of that reference, is in the record already; nothing was written.
    """
    with open_archive(source) as archive:
        job_file = _checked_content(archive)
        rows = job_file.rows
        if as_reference is not None:
            rows = _as_copy(rows, as_reference)
        with store.reading() as session:
            _refuse_known(session, rows)
        needed = sum(row["size_bytes"] for row in rows["original"])
        if shutil.disk_usage(store.folder).free < needed:
            raise JobError(f"The record's disk has no room for {needed / 1e6:.0f} MB; make room first.")
        for row in rows["original"]:
            member = f"originals/{row['sha256']}"
            with archive.open(member) as part:
                store.originals.keep_stream(part, name=member, expected_sha256=row["sha256"])
    with store.writing() as session:
        _refuse_known(session, rows)
        try:
            _insert(session, rows)
        except IntegrityError as error:
            raise UnsafeArchive(
                f"{source.name}: its rows contradict one another ({error.orig}); nothing was imported."
            ) from error
        job = session.get_one(model.Job, rows["job"][0]["id"])
    return job_record(job)


def _insert(session: Session, rows: Mapping[str, list[dict[str, Any]]]) -> None:
    for kind in logbook.JOB_TABLES:
        table = rows[kind.__tablename__]
        if kind is model.Original:
            known = set(session.scalars(select(model.Original.sha256)))
            table = [row for row in table if row["sha256"] not in known]
        if kind is model.Vehicle:
            table = [row for row in table if session.get(model.Vehicle, row["id"]) is None]
            for row in table:
                row["name"] = _free_name(session, row["name"])
        session.add_all([kind(**row) for row in table])
        session.flush()


def _free_name(session: Session, name: str) -> str:
    """The vehicle's name, numbered where another vehicle of this record has it."""
    taken, found, number = set(session.scalars(select(model.Vehicle.name))), name, 2
    while found in taken:
        found, number = f"{name} ({number})", number + 1
    return found


def _refuse_altered(rows: Mapping[str, list[dict[str, Any]]]) -> None:
    photographs = {row["id"]: row for row in rows["photograph"]}
    problems = [
        (photographs[row["photograph_id"]]["name"], problem)
        for row in rows["measurement"]
        if (
            problem := measurement_problem(
                model.Measurement(**row), photographs[row["photograph_id"]]["sha256"]
            )
        )
    ]
    problems += [
        (f"comparison {row['id'][:8]}", problem)
        for row in rows["comparison"]
        if (problem := comparison_problem(model.KeptComparison(**row)))
    ]
    if problems:
        raise JobError(f"The result of {problems[0][0]} cannot be exported: {problems[0][1]}; run verify.")


def _rows_of(session: Session, job: model.Job) -> dict[str, list[dict[str, Any]]]:
    panels = select(model.Panel.id).where(model.Panel.job_id == job.id)
    photographs = select(model.Photograph.id).where(model.Photograph.job_id == job.id)
    of_photographs = select(model.Photograph.sha256).where(model.Photograph.job_id == job.id)
    of_damage = select(logbook.Damage.sha256).where(logbook.Damage.panel_id.in_(panels))
    hashes = of_photographs.union(of_damage)
    alone = {
        "vehicle": model.Vehicle.id == job.vehicle_id,
        "job": model.Job.id == job.id,
        "original": model.Original.sha256.in_(hashes),
    }
    rows: dict[str, list[dict[str, Any]]] = {}
    for kind in logbook.JOB_TABLES:
        table = kind.__table__
        assert isinstance(table, Table)
        if table.name in alone:
            belongs = alone[table.name]
        elif "job_id" in table.c:
            belongs = table.c.job_id == job.id
        elif "panel_id" in table.c:
            belongs = table.c.panel_id.in_(panels)
        else:
            belongs = table.c.photograph_id.in_(photographs)
        query = select(table).where(belongs).order_by(*table.primary_key.columns)
        rows[kind.__tablename__] = [dict(row) for row in session.execute(query).mappings()]
    return rows


def _write(
    file: Path, store: Store, rows: Mapping[str, list[dict[str, Any]]], results: Mapping[str, str]
) -> None:
    job = json.dumps({"schema": SCHEMA, **rows}, ensure_ascii=False, indent=1)
    texts = {JOB: job, **{f"results/{key}.json": words for key, words in sorted(results.items())}}
    files = [
        {"path": path, "sha256": sha256_of_text(words), "bytes": len(words.encode())}
        for path, words in texts.items()
    ]
    originals = [row["sha256"] for row in rows["original"]]
    files += [
        {"path": f"originals/{row['sha256']}", "sha256": row["sha256"], "bytes": row["size_bytes"]}
        for row in rows["original"]
    ]
    manifest = {"schema": SCHEMA, "kind": "defectmap job", "program_version": __version__, "files": files}
    with file.open("xb") as out, zipfile.ZipFile(out, "w") as archive:
        for path, words in {MANIFEST: canonical(manifest), **texts}.items():
            archive.writestr(zipfile.ZipInfo(path, EPOCH), words, zipfile.ZIP_DEFLATED)
        for sha256 in originals:
            with (
                store.originals.kept(sha256).path.open("rb") as source,
                archive.open(zipfile.ZipInfo(f"originals/{sha256}", EPOCH), "w", force_zip64=True) as part,
            ):
                shutil.copyfileobj(source, part, 1 << 20)
        archive.close()
        out.flush()
        os.fsync(out.fileno())


def _checked_content(archive: JobArchive) -> JobFile:
    manifest = parse_manifest(archive.read_json(MANIFEST), archive.name)
    if set(manifest) != set(archive.members) - {MANIFEST}:
        odd = sorted(set(manifest) ^ (set(archive.members) - {MANIFEST}))
        raise UnsafeArchive(f"{archive.name}: {odd[0]} is not both listed and present; export it again.")
    for path, sha256 in manifest.items():
        if archive.sha256(path) != sha256 or (ORIGINAL_NAME.fullmatch(path) and not path.endswith(sha256)):
            raise UnsafeArchive(
                f"{archive.name}: {path} does not have its listed hash; nothing was imported."
            )
    job_file = parse_job(archive.read_json(JOB), archive.name)
    listed = {f"originals/{row['sha256']}" for row in job_file.rows["original"]}
    for table in ("measurement", "comparison"):
        for row in job_file.rows[table]:
            path = f"results/{row['id']}.json"
            listed.add(path)
            row[BODY] = pack(archive.read_json(path).decode("utf-8", errors="replace"))
    if listed != set(manifest) - {JOB}:
        odd = sorted(listed ^ (set(manifest) - {JOB}))
        raise UnsafeArchive(f"{archive.name}: {odd[0]} belongs to no row of the job; nothing was imported.")
    job_file.check_results(archive.name)
    return job_file


def _refuse_known(session: Session, rows: Mapping[str, list[dict[str, Any]]]) -> None:
    (job,) = rows["job"]
    if session.get(model.Job, job["id"]) is not None:
        raise AlreadyInRecord(
            f"This job ({job['reference']}) is in the record already and was left alone; "
            "give another reference to import it as a copy."
        )
    if session.scalar(select(model.Job.id).where(model.Job.reference == job["reference"])):
        raise AlreadyInRecord(
            f"The record holds another job {job['reference']!r}; give another reference for this one."
        )


def _as_copy(rows: Mapping[str, list[dict[str, Any]]], reference: str) -> dict[str, list[dict[str, Any]]]:
    renewed = {
        row["id"]: row["id"] if name == "vehicle" else new_id()  # the copy is of the same vehicle
        for name, table in rows.items()
        for row in table
        if "id" in row
    }

    def renew(row: dict[str, Any]) -> dict[str, Any]:
        return {
            key: renewed[value] if (key == "id" or key.endswith("_id")) and value is not None else value
            for key, value in row.items()
        }

    copy = {name: [renew(row) for row in table] for name, table in rows.items()}
    copy["job"][0]["reference"] = reference
    return copy
