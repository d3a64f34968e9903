"""A job in one file and back; files that are damaged, edited or built to do harm."""

from __future__ import annotations

import io
import json
import shutil
import struct
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import text

from defectmap import errors
from defectmap.record import archive as archive_module
from defectmap.record import measuring
from defectmap.record.comparisons import compare_request, comparisons_of, keep_comparison
from defectmap.record.entries import StepSpec, add_step, enter_stage
from defectmap.record.history import histories
from defectmap.record.intake import Place, add_photograph, photographs_of
from defectmap.record.jobs import all_jobs, close_job, create_job, job_named
from defectmap.record.keeping import results_of
from defectmap.record.measuring import measure_job
from defectmap.record.notes import add_note, checklists_of, notes_of, start_checklist
from defectmap.record.sealing import canonical, seal_of, sha256_of_text
from defectmap.record.store import Store, open_store
from defectmap.record.thickness_entries import add_readings
from defectmap.record.transfer import export_job, import_job
from defectmap.record.verifying import verify
from tests.record import fakes
from tests.record.kept import latest_measurements

VERSION = fakes.VERSION


@pytest.fixture
def full(store: Store, job: str, tmp_path: Path) -> str:
    """A job with something in every table."""
    fill(store, job, tmp_path)
    return job


def fill(store: Store, job: str, folder: Path) -> None:
    for number, stage in enumerate(["decontaminated", "wiped"]):
        add_photograph(store, job, fakes.photo(folder, number), Place(panel="bonnet", stage=stage))
    measure_job(store, job, measure=fakes.measure)
    request = compare_request(store, job, "bonnet")
    keep_comparison(store, request, fakes.compare(request))
    add_readings(store, job, "bonnet", "middle", (110.0, 112.0, 111.0))
    add_step(store, job, "bonnet", StepSpec(kind="correct", rung="finish"), spot="1")
    enter_stage(store, job, "roof", "washed")
    add_note(store, job, "chip at the edge, µ ≤ 2", panel="bonnet")
    start_checklist(store, job, "hand-over", ["keys"])
    close_job(store, job_named(store, job).id, closed=True)


@pytest.fixture(scope="session")
def job_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A whole job in one file."""
    folder = tmp_path_factory.mktemp("exported")
    store = open_store(folder / "record")
    fill(store, create_job(store, "J1", panels=fakes.PANELS).reference, folder)
    export_job(store, "J1", folder / "j.zip")
    store.close()
    return folder / "j.zip"


@pytest.fixture
def other(tmp_path: Path, empty_sqlite: Path) -> Iterator[Store]:
    """Another, empty record."""
    (tmp_path / "other").mkdir()
    shutil.copy(empty_sqlite, tmp_path / "other")
    opened = open_store(tmp_path / "other")
    yield opened
    opened.close()


def everything(store: Store, job: str) -> tuple[object, ...]:
    measured = latest_measurements(store, job)
    return (
        job_named(store, job),
        histories(store, job),
        photographs_of(store, job),
        measured,
        [one.record for one in results_of(store, job).values()],
        comparisons_of(store, job),
        notes_of(store, job),
        checklists_of(store, job),
    )


def test_a_job_comes_back_whole(
    store: Store, full: str, other: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = export_job(store, full, tmp_path / "j.zip")
    assert zipfile.ZipFile(file).testzip() is None
    import_job(other, file)
    assert everything(other, full) == everything(store, full)
    assert job_named(other, full).closed_at is not None
    monkeypatch.setattr(measuring, "measure_photograph", fakes.measure)
    assert verify(other, again=True).findings == ()
    again = export_job(other, full, tmp_path / "k.zip")
    assert again.read_bytes() == file.read_bytes()


def test_nothing_is_overwritten(store: Store, full: str, tmp_path: Path) -> None:
    file = export_job(store, full, tmp_path / "j.zip")
    before = file.read_bytes()
    with pytest.raises(errors.AlreadyInRecord, match="left alone"):
        export_job(store, full, file)
    assert file.read_bytes() == before
    with pytest.raises(errors.AlreadyInRecord, match="in the record already"):
        import_job(store, file)
    copy = import_job(store, file, as_reference="J1 copy")
    assert copy.id != job_named(store, full).id
    assert {j.reference for j in all_jobs(store)} == {"J1", "J1 copy"}
    assert len(photographs_of(store, "J1 copy")) == 2
    assert verify(store).sound
    with pytest.raises(errors.AlreadyInRecord, match="another job"):
        import_job(store, file, as_reference="J1 copy")
    assert list(tmp_path.glob(".*part")) == []


def test_a_job_with_a_damaged_original_is_not_exported(store: Store, full: str, tmp_path: Path) -> None:
    path = store.originals.kept(photographs_of(store, full)[0].sha256).path
    path.unlink()
    with pytest.raises(errors.OriginalDamaged, match="missing"):
        export_job(store, full, tmp_path / "j.zip")
    assert not (tmp_path / "j.zip").exists()


def test_a_job_with_an_edited_result_is_not_exported(store: Store, full: str, tmp_path: Path) -> None:
    with store.writing() as session:
        session.execute(text("UPDATE measurement SET score = 99"))
    with pytest.raises(errors.JobError, match=r"shot_000\d.jpg.*figures beside"):
        export_job(store, full, tmp_path / "j.zip")
    assert not (tmp_path / "j.zip").exists()


Edit = Callable[[dict[str, bytes]], None]


def rebuilt(file: Path, target: Path, edit: Edit, *, relist: bool = False) -> Path:
    """Copy a job file with its parts edited; `relist` makes the manifest fit the edited parts."""
    with zipfile.ZipFile(file) as source:
        parts = {name: source.read(name) for name in source.namelist()}
    edit(parts)
    if relist:
        manifest = json.loads(parts["manifest.json"])
        manifest["files"] = [
            {"path": name, "sha256": sha(data), "bytes": len(data)}
            for name, data in parts.items()
            if name != "manifest.json"
        ]
        parts["manifest.json"] = json.dumps(manifest).encode()
    with zipfile.ZipFile(target, "w") as out:
        for name, data in parts.items():
            out.writestr(name, data)
    return target


def sha(data: bytes) -> str:
    import hashlib

    return hashlib.sha256(data).hexdigest()


def edit_job(change: Callable[[dict[str, Any]], object]) -> Edit:
    def edit(parts: dict[str, bytes]) -> None:
        job = json.loads(parts["job.json"])
        change(job)
        parts["job.json"] = json.dumps(job).encode()

    return edit


def set_value(table: str, column: str, value: object) -> Edit:
    return edit_job(lambda job: job[table][0].update({column: value}))


def flip_original(parts: dict[str, bytes]) -> None:
    name = next(name for name in parts if name.startswith("originals/"))
    parts[name] = parts[name][:-1] + b"?"


def flatter(parts: dict[str, bytes]) -> None:
    job = json.loads(parts["job.json"])
    name = f"results/{job['measurement'][0]['id']}.json"
    parts[name] = parts[name].replace(b'"score":60.0', b'"score":99.0')


def forged_result(change: Callable[[dict[str, Any]], None]) -> Edit:
    """A result that was never measured, under a seal that fits."""

    def edit(parts: dict[str, bytes]) -> None:
        job = json.loads(parts["job.json"])
        row = job["measurement"][0]
        name = f"results/{row['id']}.json"
        result = json.loads(parts[name])
        change(result)
        words = canonical(result)
        parts[name] = words.encode()
        photograph = next(p for p in job["photograph"] if p["id"] == row["photograph_id"])
        made = {"program_version": row["program_version"], "settings": row["settings"]}
        row["seal"] = seal_of(words, of=(photograph["sha256"],), **made)
        parts["job.json"] = json.dumps(job).encode()

    return edit


UNLISTED_EDITS = [
    pytest.param(flip_original, "listed hash", id="original"),
    pytest.param(flatter, "listed hash", id="result"),
    pytest.param(set_value("job", "customer", "x"), "listed hash", id="job"),
    pytest.param(lambda parts: parts.pop("job.json"), "job.json", id="no job"),
    pytest.param(lambda parts: parts.pop("manifest.json"), "no manifest.json", id="no manifest"),
    pytest.param(lambda parts: parts.update({"manifest.json": b"{"}), "not readable", id="half manifest"),
    pytest.param(lambda parts: parts.update({"manifest.json": b"[" * 10**5}), "not readable", id="deep"),
]
LISTED_EDITS = [
    pytest.param(flip_original, "listed hash", id="original"),
    pytest.param(flatter, "measurement of shot_000", id="result"),
    pytest.param(set_value("measurement", "score", 99.0), "figures beside", id="figure beside"),
    pytest.param(set_value("measurement", "program_version", "9"), "was changed", id="version"),
    pytest.param(set_value("comparison", "verdict", "no"), "comparison", id="verdict"),
    pytest.param(set_value("photograph", "stage", "shiny"), r"photograph\[0\].stage", id="stage"),
    pytest.param(set_value("photograph", "sha256", "../x"), r"photograph\[0\].sha256", id="hash is a path"),
    pytest.param(set_value("photograph", "px_per_mm", "20"), r"photograph\[0\].px_per_mm", id="type"),
    pytest.param(set_value("panel", "area_m2", float("inf")), r"panel\[0\].area_m2", id="infinite"),
    pytest.param(set_value("panel", "area_m2", -5.0), r"panel\[0\].area_m2: .*is -5, which is", id="area"),
    pytest.param(set_value("panel", "area_m2", 1e308), r"panel\[0\].area_m2: .*is 1e\+308", id="huge"),
    pytest.param(set_value("panel", "position", 2**63), r"panel\[0\].position: .*from 0 to", id="position"),
    pytest.param(set_value("panel", "version", -1), r"panel\[0\].version: ", id="negative"),
    pytest.param(set_value("job", "created_at", "zzz"), r"job\[0\].created_at: .*not a time", id="time"),
    pytest.param(set_value("job", "created_at", "0001-01-01T00:00:00"), "in the year 1", id="year"),
    pytest.param(set_value("reading", "value_um", -3.0), r"reading\[0\].value_um", id="reading"),
    pytest.param(set_value("measurement", "score", 1e9), r"measurement\[0\].score", id="score"),
    pytest.param(forged_result(lambda r: r.pop("detection_limit")), "its detection_limit", id="no limit"),
    pytest.param(forged_result(lambda r: r["photo"].pop("sha256")), "its photo.sha256", id="no hash"),
    pytest.param(forged_result(lambda r: r["photo"].update(taken="today")), "its photo.taken", id="taken"),
    pytest.param(
        forged_result(lambda r: r["detection_limit"].update(contrast=None)),
        "without a detection limit",
        id="no film",
    ),
    pytest.param(forged_result(lambda r: r.update(marks="many")), "its marks", id="no marks"),
    pytest.param(forged_result(lambda r: r["scale"].update(px_per_mm="16")), "its scale.px", id="no number"),
    pytest.param(forged_result(lambda r: r["photo"].update(width_px=2**62)), "its photo.width", id="width"),
    pytest.param(
        forged_result(lambda r: r["marks"][0].update(points=[[1, 2, 3]])), "its marks.0", id="point"
    ),
    pytest.param(set_value("panel", "painted_on", "2026-03-02T08:00:00"), "not a time or a day", id="day"),
    pytest.param(set_value("panel", "colour", "x"), r"panel\[0\].colour", id="unknown column"),
    pytest.param(set_value("spot", "panel_id", "0" * 32), "leads nowhere", id="reference"),
    pytest.param(set_value("photograph", "name", "a\x1b[2J"), r"photograph\[0\].name", id="control"),
    pytest.param(set_value("panel", "name", ""), r"panel\[0\].name", id="no name"),
    pytest.param(set_value("note", "words", "a\x00b"), r"note\[0\].words", id="nul"),
    pytest.param(set_value("note", "words", "\ud800"), r"note\[0\].words", id="surrogate"),
    pytest.param(set_value("step", "warnings", "{}"), r"step\[0\].warnings", id="json inside"),
    pytest.param(
        set_value("step", "warnings", '[{"code": "later", "values": {}}]'), "no words for", id="unknown gate"
    ),
    pytest.param(
        set_value("step", "warnings", '[{"code": "no proof", "values": {}}]'), "no words for", id="gate alone"
    ),
    pytest.param(set_value("job", "target", '{"shine": 1}'), r"job\[0\].target", id="target"),
    pytest.param(edit_job(lambda job: job["job"].clear()), "0 jobs", id="no job row"),
    pytest.param(edit_job(lambda job: job.pop("reading")), "reading: Field required", id="no table"),
    pytest.param(edit_job(lambda job: job["note"].append(job["note"][0])), "stands twice", id="twice"),
    pytest.param(edit_job(lambda job: job.update(schema=2)), "another version", id="schema"),
    pytest.param(
        edit_job(lambda job: job["panel"][1].update(name=job["panel"][0]["name"])), "contradict", id="unique"
    ),
]


def refused(store: Store, file: Path, words: str) -> None:
    """The file is refused with these words, and the record is as empty as before."""
    with pytest.raises(errors.UnsafeArchive, match=words):
        import_job(store, file)
    assert all_jobs(store) == ()
    assert store.originals.leftovers() == ()


@pytest.mark.parametrize(("edit", "words"), UNLISTED_EDITS)
def test_a_damaged_job_file_is_refused(
    other: Store, job_file: Path, tmp_path: Path, edit: Edit, words: str
) -> None:
    refused(other, rebuilt(job_file, tmp_path / "k.zip", edit), words)
    assert list(other.originals.strays(())) == []


@pytest.mark.parametrize(("edit", "words"), LISTED_EDITS)
def test_a_forged_job_file_is_refused(
    other: Store, job_file: Path, tmp_path: Path, edit: Edit, words: str
) -> None:
    refused(other, rebuilt(job_file, tmp_path / "k.zip", edit, relist=True), words)


@pytest.mark.parametrize(
    "name",
    [
        "../evil.txt",
        "originals/../../evil",
        "/etc/cron.d/evil",
        "C:\\evil.exe",
        "originals\\" + "0" * 64,
        "originals/",
        "originals/" + "A" * 64,
        "originals/" + "0" * 64 + "/x",
        "results/../job.json",
        "record.sqlite",
        "tables.toml",
        "job.json\x1b[2J",
        "Job.json",
    ],
)
def test_names_that_reach_elsewhere_are_refused(other: Store, tmp_path: Path, name: str) -> None:
    with zipfile.ZipFile(tmp_path / "k.zip", "w") as out:
        out.writestr("manifest.json", "{}")
        out.writestr(zipfile.ZipInfo(name), b"x")
    before = sorted(tmp_path.rglob("*"))
    refused(other, tmp_path / "k.zip", "not the name of any part")
    assert sorted(tmp_path.rglob("*")) == before


def test_a_name_with_nul_is_refused(other: Store, tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "k.zip", "w") as out:
        out.writestr("job.json~evil", b"x")
    data = (tmp_path / "k.zip").read_bytes().replace(b"job.json~evil", b"job.json\x00evil")
    (tmp_path / "k.zip").write_bytes(data)
    refused(other, tmp_path / "k.zip", "not the name of any part")


def test_a_link_is_refused(other: Store, tmp_path: Path) -> None:
    info = zipfile.ZipInfo("originals/" + "0" * 64)
    info.external_attr = 0o120777 << 16
    with zipfile.ZipFile(tmp_path / "k.zip", "w") as out:
        out.writestr(info, "/etc/passwd")
    refused(other, tmp_path / "k.zip", "is a link")


def test_two_parts_of_one_name_are_refused(other: Store, tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "k.zip", "w") as out:
        out.writestr("job.json", "{}")
        with pytest.warns(UserWarning, match="Duplicate"):
            out.writestr("job.json", "[]")
    refused(other, tmp_path / "k.zip", "stands twice")


def test_a_bomb_of_json_is_refused_before_it_unpacks(other: Store, tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "k.zip", "w", zipfile.ZIP_DEFLATED) as out:
        out.writestr("job.json", b" " * (20 * 2**20))
    assert (tmp_path / "k.zip").stat().st_size < 100_000
    refused(other, tmp_path / "k.zip", "200 times")


def test_a_compressed_photograph_is_refused(other: Store, tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "k.zip", "w", zipfile.ZIP_DEFLATED) as out:
        out.writestr("originals/" + "0" * 64, b" " * (20 * 2**20))
    refused(other, tmp_path / "k.zip", "compressed photograph")


def test_too_large_a_part_is_refused(other: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(archive_module, "MAX_JSON_BYTES", 2**20)
    with zipfile.ZipFile(tmp_path / "k.zip", "w") as out:
        out.writestr("job.json", b" " * (2**20 + 1))
    refused(other, tmp_path / "k.zip", "unpack to more than 1 MiB")


def test_too_much_altogether_is_refused(
    other: Store, job_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(archive_module, "MAX_ALL_JSON_BYTES", 1000)
    refused(other, job_file, "more than a job can hold")


def test_parts_that_share_bytes_are_refused(other: Store, tmp_path: Path) -> None:
    """The overlapping kind of bomb: many entries, one body."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as out:
        out.writestr("results/" + "0" * 32 + ".json", b"x" * 1000)
        out.writestr("results/" + "1" * 32 + ".json", b"x" * 1000)
    data = bytearray(buffer.getvalue())
    entry = data.rindex(b"PK\x01\x02")
    struct.pack_into("<I", data, entry + 42, 0)  # relative offset of local header (APPNOTE 4.3.12)
    (tmp_path / "k.zip").write_bytes(data)
    refused(other, tmp_path / "k.zip", "shares bytes")


def test_too_many_parts_are_refused(other: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(archive_module, "MAX_MEMBERS", 3)
    with zipfile.ZipFile(tmp_path / "k.zip", "w") as out:
        for number in range(4):
            out.writestr(f"results/{number:032x}.json", "{}")
    refused(other, tmp_path / "k.zip", "4 parts")


@pytest.mark.parametrize(
    "data", [b"", b"PK\x03\x04", b"\xff\xd8\xff\xe0 a photograph", b"PK\x05\x06" + b"\0" * 18]
)
def test_what_is_no_job_file_is_refused(other: Store, tmp_path: Path, data: bytes) -> None:
    (tmp_path / "k.zip").write_bytes(data)
    refused(other, tmp_path / "k.zip", "job file")


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_a_job_file_with_any_byte_changed_is_refused_or_the_same(tmp_path: Path, data: st.DataObject) -> None:
    """Whatever byte is damaged: a refusal in our words, or (where it means nothing) the same job."""
    source = tmp_path / "source"
    file = tmp_path / "j.zip"
    if not file.exists():
        made = open_store(source)
        create_job(made, "J1", panels=fakes.PANELS)
        photo = fakes.photo(tmp_path, 1, size=64)
        add_photograph(made, "J1", photo, Place(panel="roof", stage="washed"))
        measure_job(made, "J1", measure=fakes.measure)
        export_job(made, "J1", file)
        made.close()
        open_store(tmp_path / "target").close()
    damaged = bytearray(file.read_bytes())
    place = data.draw(st.integers(0, len(damaged) - 1))
    damaged[place] ^= data.draw(st.integers(1, 255))
    (tmp_path / "k.zip").write_bytes(damaged)
    target = open_store(tmp_path / "target")
    reference = f"copy {len(all_jobs(target))}"
    try:
        import_job(target, tmp_path / "k.zip", as_reference=reference)
    except errors.JobError:
        assert reference not in {j.reference for j in all_jobs(target)}
    else:
        assert [p.sha256 for p in photographs_of(target, reference)] == [sha(photo_bytes(tmp_path))]
    assert verify(target).sound
    target.close()


def photo_bytes(folder: Path) -> bytes:
    return (folder / "shot_0001.jpg").read_bytes()


def test_the_hash_of_a_text_is_that_of_its_utf8() -> None:
    # RFC 6234 / FIPS 180-4: SHA-256("abc")
    assert sha256_of_text("abc").startswith("ba7816bf8f01cfea")
