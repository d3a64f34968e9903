"""Job files as a forger makes them: a real one, taken apart, changed in one place, and sealed again."""

from __future__ import annotations

import hashlib
import json
import zipfile
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import cv2
import pytest

from defectmap.record import measuring, results
from defectmap.record.care_dates import add_care
from defectmap.record.corrections import Exclusion
from defectmap.record.damages import add_damage
from defectmap.record.entries import StepSpec, add_step, enter_stage
from defectmap.record.intake import Place, add_photograph
from defectmap.record.jobs import create_job
from defectmap.record.keeping import figures_of, results_of
from defectmap.record.measuring import measure_job
from defectmap.record.notes import add_note, start_checklist
from defectmap.record.panels import PanelSpec
from defectmap.record.sealing import seal_of, sha256_of_text
from defectmap.record.store import Store, open_store
from defectmap.record.thickness_entries import add_readings
from defectmap.record.transfer import export_job
from defectmap.record.vehicles import add_vehicle
from defectmap.record.whole import correct
from defectmap.trade.facts import Target
from tests import phantom
from tests.filmed import film_files, stand_in

JOB = "J1"
BEFORE, AFTER = "decontaminated", "wiped"
PANELS = ("bonnet", "roof", "boot lid")
PX_PER_MM = 10.0
Place_ = tuple[str | int, ...]
EMPTY_BOX = b"\0\0\0\x08free"  # makes the same film another file
IN_ROWS = ("settings", "target", "warnings")  # columns that hold JSON themselves


def photographs(folder: Path) -> dict[str, Path]:
    """One spot before and after, and another; small enough to be measured in half a second."""
    marks = phantom.swirls(1, density_mm_per_cm2=60)
    polished = phantom.polished(marks, seed=3, keep_share=0.2)
    sides = {"before": (marks, 1), "after": (polished, 2), "other": (polished, 3)}
    for name, (grooves, seed) in sides.items():
        shot = phantom.Shot(size_px=(480, 640), px_per_mm=PX_PER_MM, seed=seed)
        rgb = phantom.photograph(grooves, shot, panel=phantom.Panel(seed=1)).rgb
        cv2.imwrite(str(folder / f"{name}.png"), rgb[..., ::-1])
    return {name: folder / f"{name}.png" for name in sides}


def rich_job(store: Store, folder: Path) -> None:
    """A job with something in every table: photographs, films, one of each, and all that is entered."""
    add_vehicle(store, "estate", make="any", colour="black", paint="clear coat")
    panels = [PanelSpec(name=name, area_m2=1.5, material="steel") for name in PANELS]
    create_job(store, JOB, panels=panels, customer="C-1", of="estate", target=Target(density_mm_per_cm2=3.0))
    for kind in ("wash", "decontaminate"):
        add_step(store, JOB, "bonnet", StepSpec(kind=kind))
    shots, films = photographs(folder), film_files(folder)
    (folder / "other").mkdir()
    other_film = folder / "other" / "before.mp4"
    other_film.write_bytes(films["before.mp4"].read_bytes() + EMPTY_BOX)
    for stage, side in ((BEFORE, "before"), (AFTER, "after")):
        if stage == AFTER:
            finish = StepSpec(kind="correct", rung="finish", removal_low_um=0.5, removal_high_um=1.0)
            add_step(store, JOB, "bonnet", finish, spot="1")
            add_step(store, JOB, "bonnet", StepSpec(kind="wipe"))
        given = {"bonnet": shots[side], "roof": films[f"{side}.mp4"]}
        given["boot lid"] = other_film if stage == BEFORE else shots["other"]
        for panel, file in given.items():
            add_photograph(store, JOB, file, Place(panel=panel, stage=stage, px_per_mm=PX_PER_MM))
    measure_job(store, JOB, workers=1)
    for panel in PANELS:
        results.compare(store, JOB, panel)
    first = next(one for one in results_of(store, JOB, panel="bonnet").values())
    correct(store, first, [Exclusion(left=0, top=0, right=40, bottom=40)])
    results.compare(store, JOB, "bonnet")
    add_readings(store, JOB, "bonnet", "middle", (110.0, 112.0, 111.0))
    enter_stage(store, JOB, "roof", "washed")
    add_note(store, JOB, "chip at the edge, µ ≤ 2", panel="bonnet")
    start_checklist(store, JOB, "hand-over", ["keys"])
    add_damage(store, JOB, "roof", "chip", words="small", at_plan=(0.4, 0.4), photograph=shots["before"])
    add_care(store, JOB, "2027-01-05", "wash again")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Sample:
    """A job file in parts, and what lay on the shelf of the record that it came from."""

    kept: Path | None
    job: dict[str, Any]
    results: dict[str, Any]
    originals: dict[str, bytes]


def sample_of(folder: Path) -> Sample:
    """A rich job, exported."""
    (folder / "files").mkdir(parents=True)
    store = open_store(folder / "record")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(measuring, "film_measured", stand_in)
        rich_job(store, folder / "files")
    file = export_job(store, JOB, folder / "job.zip")
    store.close()
    return taken_apart(file, kept=folder / "record" / "kept")


def taken_apart(file: Path, *, kept: Path | None = None) -> Sample:
    """A job file in parts."""
    with zipfile.ZipFile(file) as parts:
        read = {name: parts.read(name) for name in parts.namelist()}
    return Sample(
        kept=kept,
        job=json.loads(read["job.json"]),
        results={n[8:-5]: json.loads(data) for n, data in read.items() if n.startswith("results/")},
        originals={name: data for name, data in read.items() if name.startswith("originals/")},
    )


def places(value: Any, at: Place_ = ()) -> Iterator[Place_]:
    """Every place in JSON, JSON in the columns of rows with it."""
    if at:
        yield at
    inside: Any = ()
    if isinstance(value, dict):
        inside = value.items()
    elif isinstance(value, list):
        inside = enumerate(value[:3])  # the rest is alike
    elif isinstance(value, str) and at and at[-1] in IN_ROWS:
        inside = json.loads(value)
        inside = inside.items() if isinstance(inside, dict) else enumerate(inside)
    for key, one in inside:
        yield from places(one, (*at, key))


def put(value: Any, at: Place_, change: Any) -> Any:
    """JSON with the value at a place replaced by what `change` makes of it; `DROP` takes it out."""
    if not at:
        return change(value)
    if isinstance(value, str):
        return json.dumps(put(json.loads(value), at, change))
    key, rest = at[0], at[1:]
    copy = dict(value) if isinstance(value, dict) else list(value)
    new = put(copy[key], rest, change)  # type: ignore[index]
    if new is DROP:
        del copy[key]  # type: ignore[arg-type]
    else:
        copy[key] = new  # type: ignore[index]
    return copy


DROP = object()


def sealed(
    sample: Sample, job: dict[str, Any], changed: dict[str, Any]
) -> tuple[dict[str, Any], dict[str, str]]:
    """Rows and texts of results with every hash, seal, verdict and figure beside made to fit, as far as
    the rows still have the form of rows."""
    changed = changed if isinstance(changed, dict) else {}
    words = {key: json.dumps(value, ensure_ascii=False) for key, value in changed.items()}
    hashes = {row["id"]: row["sha256"] for row in sample.job["photograph"]}
    for table in ("measurement", "comparison"):
        rows = job.get(table) if isinstance(job, dict) else None
        for row in rows if isinstance(rows, list) else ():
            try:
                _seal(row, words[row["id"]], changed[row["id"]], hashes)
            except (KeyError, TypeError, ValueError, AttributeError, RecursionError, ArithmeticError):
                continue  # so broken that it cannot be sealed
    return job, words


def _seal(row: dict[str, Any], words: str, result: Any, hashes: dict[str, str]) -> None:
    row["settings_sha256"] = sha256_of_text(row["settings"])
    if "photograph_id" in row:
        of = (hashes[row["photograph_id"]],)
        row["refused"] = result.get("refused")
        row.update(asdict(figures_of(result)))
    else:
        made_from = json.loads(row["settings"])
        of = (*made_from.get("before", ()), *made_from.get("after", ()))
        row["verdict"] = str(result.get("comparable", ""))
    row["seal"] = seal_of(words, of=of, program_version=row["program_version"], settings=row["settings"])


def forged(sample: Sample, at: Place_, change: Any, target: Path) -> Path:
    """The job file with one place changed. A place begins with "job", or with "results" and an identity."""
    both = {"job": json.loads(json.dumps(sample.job)), "results": sample.results}
    both = put(both, at, change)
    job, words = sealed(sample, both["job"], both["results"])
    parts = {
        "job.json": json.dumps(job).encode(),
        **{f"results/{k}.json": w.encode() for k, w in words.items()},
    }
    parts |= sample.originals
    files = [
        {"path": name, "sha256": hashlib.sha256(data).hexdigest(), "bytes": len(data)}
        for name, data in parts.items()
    ]
    manifest = {"schema": 1, "kind": "defectmap job", "program_version": "0.1.0", "files": files}
    with zipfile.ZipFile(target, "w") as out:
        for name, data in {"manifest.json": json.dumps(manifest).encode(), **parts}.items():
            out.writestr(name, data)
    return target
