"""The form of the JSON in a job file, checked row by row before anything of it is used.

The form of each row follows from the tables of `model`; what a value may be follows from its name. Every
error is given with its place (`photograph[3].stage: …`).
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ValidationError, create_model
from sqlalchemy import Boolean, Double, Integer, Table

from defectmap.errors import UnsafeArchive
from defectmap.record import logbook, model
from defectmap.record.archive import JOB, MANIFEST
from defectmap.record.column_forms import check_column
from defectmap.record.comparison_forms import comparison_form_problem
from defectmap.record.comparisons import comparison_problem
from defectmap.record.intake import MAX_SHOWN_NAME
from defectmap.record.keeping import measurement_problem
from defectmap.record.limits import WholeForm, check_time, float_check, int_check
from defectmap.record.panels import MATERIALS, REPAINTED
from defectmap.record.result_forms import measurement_form_problem
from defectmap.record.rows import MAX_NAME
from defectmap.record.sealing import unpack
from defectmap.trade.care import CARE_KINDS
from defectmap.trade.damage import DAMAGE_KINDS
from defectmap.trade.stages import STAGE_NAMES, STEP_KINDS
from defectmap.trade.surface import PAINTS

BODY = "body"
MAX_WORDS = 100_000
SHOWN_PROBLEMS = 5
NAMES = {
    ("job", "reference"): MAX_NAME,
    ("vehicle", "name"): MAX_NAME,
    ("panel", "name"): MAX_NAME,
    ("spot", "name"): MAX_NAME,
    ("reading", "place"): MAX_NAME,
    ("photograph", "name"): MAX_SHOWN_NAME,
}


class _File(WholeForm):
    path: str
    sha256: str
    bytes: int


class _Manifest(WholeForm):
    schema_: Literal[1]
    kind: Literal["defectmap job"]
    program_version: str
    files: list[_File]


@dataclass(frozen=True, slots=True)
class JobFile:
    """The rows of a job file, by table; every reference among them leads to a row of the same file."""

    rows: dict[str, list[dict[str, Any]]]

    def check_results(self, name: str) -> None:
        """Hold each result against its form, its seal, its photograph and its settings.

        Raises
        ------
        UnsafeArchive
            A result was altered, or is none.
        """
        photographs = {row["id"]: row for row in self.rows["photograph"]}
        for row in self.rows["measurement"]:
            photograph = photographs[row["photograph_id"]]
            problem = measurement_form_problem(unpack(row[BODY]), row["settings"]) or measurement_problem(
                model.Measurement(**row), photograph["sha256"]
            )
            if problem is not None:
                raise UnsafeArchive(f"{name}: measurement of {photograph['name']}: {problem}; not imported.")
        for row in self.rows["comparison"]:
            problem = comparison_form_problem(unpack(row[BODY]), row["settings"]) or comparison_problem(
                model.KeptComparison(**row)
            )
            if problem is not None:
                raise UnsafeArchive(f"{name}: comparison {row['id'][:8]}: {problem}; not imported.")


def parse_manifest(data: bytes, name: str) -> dict[str, str]:
    """Path to SHA-256 of every part that the manifest lists.

    Raises
    ------
    UnsafeArchive
        It is not a manifest of a job file that this version reads.
    """
    content = _json(data, name, MANIFEST)
    content = {("schema_" if key == "schema" else key): value for key, value in content.items()}
    try:
        manifest = _Manifest.model_validate(content)
    except ValidationError as error:
        raise _unsafe(name, MANIFEST, error) from error
    return {file.path: file.sha256 for file in manifest.files}


def parse_job(data: bytes, name: str) -> JobFile:
    """Rows of the job, checked.

    Raises
    ------
    UnsafeArchive
        A row has not the form of its table, or refers to a row that is not in the file.
    """
    content = _json(data, name, JOB)
    if content.pop("schema", None) != 1:
        raise UnsafeArchive(f"{name} was made by another version; update defectmap, then import it again.")
    try:
        checked = _job_model().model_validate(content)
    except ValidationError as error:
        raise _unsafe(name, JOB, error) from error
    rows = checked.model_dump()
    _check_references(rows, name)
    return JobFile(rows)


def _json(data: bytes, name: str, part: str) -> dict[str, Any]:
    try:
        content = json.loads(data)
    except (ValueError, RecursionError) as error:
        raise UnsafeArchive(f"{part} in {name} is not readable ({error}); export the job again.") from error
    if not isinstance(content, dict):
        raise UnsafeArchive(f"{part} in {name} is not what a job file holds; export the job again.")
    return content


def _unsafe(name: str, part: str, error: ValidationError) -> UnsafeArchive:
    problems = [f"{place_of(e['loc'])}: {e['msg']}" for e in error.errors()]
    more = len(problems) - SHOWN_PROBLEMS
    listed = "; ".join(problems[:SHOWN_PROBLEMS]) + (f"; and {more} more" if more > 0 else "")
    return UnsafeArchive(f"{part} in {name} is not in order ({listed}); nothing was imported.")


def place_of(location: tuple[int | str, ...]) -> str:
    """A place as people write it.

    Examples
    --------
    >>> place_of(("ladder", 2, "pad"))
    'ladder[2].pad'
    """
    words = "".join(f"[{part}]" if isinstance(part, int) else f".{part}" for part in location)
    return words.removeprefix(".")


def _job_model() -> type[BaseModel]:
    tables: dict[str, Any] = {}
    for kind in logbook.JOB_TABLES:
        table = kind.__table__
        assert isinstance(table, Table)
        tables[kind.__tablename__] = (list[_row_model(table)], ...)  # type: ignore[misc]
    return create_model("JobRows", __base__=WholeForm, **tables)


def _row_model(table: Table) -> type[BaseModel]:
    columns: dict[str, Any] = {}
    for column in table.columns:
        if column.name == BODY:
            continue
        kind: Any
        if isinstance(column.type, Boolean):
            kind = bool
        elif isinstance(column.type, Integer):
            kind = Annotated[int, AfterValidator(int_check)]
        elif isinstance(column.type, Double):
            kind = Annotated[float, AfterValidator(float_check(column.name))]
        else:
            kind = Annotated[str, AfterValidator(_check_for(table.name, column.name))]
        # a file from before a column came has none of it
        given = getattr(column.default, "arg", ...)
        columns[column.name] = (kind | None, None) if column.nullable else (kind, given)
    return create_model(table.name, __base__=WholeForm, **columns)


def _check_for(table: str, column: str) -> Callable[[str], str]:
    choices = {
        ("photograph", "stage"): STAGE_NAMES,
        ("stage_entry", "stage"): STAGE_NAMES,
        ("comparison", "before_stage"): STAGE_NAMES,
        ("comparison", "after_stage"): STAGE_NAMES,
        ("step", "kind"): STEP_KINDS,
        ("job", "paint"): PAINTS,
        ("vehicle", "paint"): PAINTS,
        ("panel", "paint"): ("", *PAINTS),
        ("panel", "material"): MATERIALS,
        ("reading", "stage"): ("", *STAGE_NAMES),
        ("damage", "kind"): DAMAGE_KINDS,
        ("care_date", "kind"): CARE_KINDS,
        ("panel", "repainted"): REPAINTED,
    }.get((table, column))

    def check(value: str) -> str:
        if len(value.encode()) > MAX_WORDS or "\x00" in value:  # encoding also finds lone surrogates
            raise ValueError("is too long or holds a NUL character")
        if choices is not None and value not in choices:
            raise ValueError(f"is not one of: {', '.join(choices)}")
        if column == "id" or column.endswith("_id"):
            _match(value, r"[0-9a-f]{32}", "an identity of 32 hexadecimal digits")
        if column in ("sha256", "settings_sha256", "seal"):
            _match(value, r"[0-9a-f]{64}", "a SHA-256 in hexadecimal")
        longest = NAMES.get((table, column))
        if longest is not None and not (0 < len(value) <= longest and value.isprintable()):
            raise ValueError(f"is not 1 to {longest} printable characters")
        check_time(column, value)
        check_column(column, value)
        return value

    return check


def _match(value: str, pattern: str, what: str) -> None:
    if not re.fullmatch(pattern, value):
        raise ValueError(f"is not {what}")


def _check_references(rows: dict[str, list[dict[str, Any]]], name: str) -> None:
    if len(rows["job"]) != 1:
        raise UnsafeArchive(f"{name} holds {len(rows['job'])} jobs instead of one; nothing was imported.")
    known = {table: {row["id"] for row in content if "id" in row} for table, content in rows.items()}
    hashes = {row["sha256"] for row in rows["original"]}
    if len(hashes) != len(rows["original"]):
        raise UnsafeArchive(f"{name}: an original is listed twice; nothing was imported.")
    for table, content in rows.items():
        if len(known[table]) != len(content) and table != "original":
            raise UnsafeArchive(f"{name}: an identity stands twice in {table}; nothing was imported.")
        for index, row in enumerate(content):
            for key, value in row.items():
                if key.endswith("_id") and value is not None and value not in known[key.removesuffix("_id")]:
                    raise UnsafeArchive(
                        f"{name}: {table}[{index}].{key} leads nowhere; nothing was imported."
                    )
            own = row.get("sha256") if table in ("photograph", "damage") else None
            if own is not None and own not in hashes:
                raise UnsafeArchive(f"{name}: {table}[{index}] has no original; nothing was imported.")
