"""Originals in an object store, against a server that speaks S3: kept, held to their hash, or a sentence."""

from __future__ import annotations

import io
import os
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from defectmap.errors import OriginalDamaged, OriginalsUnreachable, RecordUnavailable
from defectmap.record import object_originals as module
from defectmap.record.database import sqlite_url
from defectmap.record.intake import add_photograph, photographs_of
from defectmap.record.jobs import create_job
from defectmap.record.measuring import measure_job
from defectmap.record.object_originals import ObjectOriginals, without_secrets
from defectmap.record.results import tables_of
from defectmap.record.store import TABLES_FILE, Store, open_store, record_place
from defectmap.record.transfer import export_job, import_job
from defectmap.record.verifying import verify
from defectmap.trade.tables import SHIPPED
from tests.record import fakes
from tests.record.test_leases import PLACE
from tests.record.test_originals import ABC

pytest.importorskip("s3fs", reason="s3fs is not installed (pip install defectmap[objects])")
server_of = pytest.importorskip("moto.server", reason="moto, the test server for S3, is not installed")


@pytest.fixture(scope="module")
def server() -> Iterator[str]:
    """A store that speaks S3; what finds it is what finds a shop's own: the environment."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    moto = server_of.ThreadedMotoServer(ip_address="127.0.0.1", port=port, verbose=False)
    moto.start()
    address = f"http://127.0.0.1:{port}"
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("AWS_ENDPOINT_URL", address)
        patch.setenv("AWS_ACCESS_KEY_ID", "key")
        patch.setenv("AWS_SECRET_ACCESS_KEY", "secret")
        patch.setenv("AWS_DEFAULT_REGION", "us-east-1")
        module._file_system.cache_clear()
        yield address
    moto.stop()
    module._file_system.cache_clear()


@pytest.fixture
def bucket(server: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """URL of an empty bucket."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    name = f"paint-{os.urandom(6).hex()}"
    module._file_system("s3").mkdir(name)
    return f"s3://{name}"


@pytest.fixture
def kept(bucket: str, tmp_path: Path) -> ObjectOriginals:
    return ObjectOriginals(f"{bucket}/shop", tmp_path / "here")


@pytest.fixture
def store(bucket: str, tmp_path: Path) -> Iterator[Store]:
    opened = open_store(f"{bucket}/shop", url=str(sqlite_url(tmp_path / "db.sqlite")))
    create_job(opened, "J1", panels=fakes.PANELS)
    yield opened
    opened.close()


def overwrite(kept: ObjectOriginals, sha256: str, data: bytes) -> None:
    module._file_system("s3").pipe_file(kept.kept(sha256).url, data)
    kept.kept(sha256).path.unlink(missing_ok=True)


def test_an_object_is_named_by_its_sha256(kept: ObjectOriginals) -> None:
    found = kept.keep_stream(io.BytesIO(b"abc"), name="abc.jpg")
    assert (found.sha256, found.size_bytes) == (ABC, 3)
    assert module._file_system("s3").cat_file(f"{kept.url}/originals/{ABC[:2]}/{ABC}") == b"abc"
    assert kept.state(ABC) == "whole"
    assert kept.leftovers() == ()


def test_another_bay_reads_what_one_added(kept: ObjectOriginals, tmp_path: Path) -> None:
    kept.keep_stream(io.BytesIO(b"abc"), name="abc.jpg")
    other = ObjectOriginals(kept.url, tmp_path / "there")
    assert not other.kept(ABC).path.exists()
    assert other.read(ABC, name="abc.jpg") == b"abc"
    assert other.local(ABC).read_bytes() == b"abc"


def test_missing_and_altered_objects_are_told_apart(kept: ObjectOriginals) -> None:
    assert kept.state(ABC) == kept.kept(ABC).bring() == "missing"
    with pytest.raises(OriginalDamaged, match=r"abc\.jpg is missing"):
        kept.read(ABC, name="abc.jpg")
    kept.keep_stream(io.BytesIO(b"abc"), name="abc.jpg")
    overwrite(kept, ABC, b"abd")
    assert kept.state(ABC) == kept.kept(ABC).bring() == "altered"
    assert not kept.kept(ABC).path.exists()
    with pytest.raises(OriginalDamaged, match=r"abc\.jpg is altered"):
        kept.read(ABC, name="abc.jpg")


def test_a_spoilt_copy_is_brought_anew(kept: ObjectOriginals) -> None:
    kept.keep_stream(io.BytesIO(b"abc"), name="abc.jpg")
    kept.kept(ABC).path.write_bytes(b"abd")
    assert kept.read(ABC, name="abc.jpg") == b"abc"


def test_an_altered_object_is_not_overwritten(kept: ObjectOriginals) -> None:
    kept.keep_stream(io.BytesIO(b"abc"), name="abc.jpg")
    overwrite(kept, ABC, b"abd")
    with pytest.raises(OriginalDamaged, match="not overwritten"):
        kept.keep_stream(io.BytesIO(b"abc"), name="abc.jpg")
    assert module._file_system("s3").cat_file(kept.kept(ABC).url) == b"abd"


def test_a_half_sent_object_is_told(kept: ObjectOriginals, monkeypatch: pytest.MonkeyPatch) -> None:
    s3 = module._file_system("s3")
    monkeypatch.setattr(s3, "put_file", lambda _, url: s3.pipe_file(url, b"ab"))
    with pytest.raises(OriginalsUnreachable, match="another size"):
        kept.keep_stream(io.BytesIO(b"abc"), name="abc.jpg")


def test_copies_make_room_for_newer_ones(kept: ObjectOriginals, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "MOST_COPIES_BYTES", 3)
    kept.keep_stream(io.BytesIO(b"abc"), name="a.jpg")
    os.utime(kept.kept(ABC).path, (1, 1))
    second = kept.keep_stream(io.BytesIO(b"xyz"), name="b.jpg").sha256
    kept.kept(second).path.unlink()
    assert kept.kept(second).bring() == "whole"
    assert not kept.kept(ABC).path.exists()
    assert kept.kept(ABC).bring() == "whole"


def test_a_job_is_added_measured_verified_and_moved(store: Store, tmp_path: Path) -> None:
    for number in range(3):
        add_photograph(store, "J1", fakes.photo(tmp_path, number), PLACE)
    assert measure_job(store, "J1", measure=fakes.measure, workers=1).measured == 3
    assert verify(store).findings == ()
    file = export_job(store, "J1", tmp_path / "j1.zip")
    other = open_store(tmp_path / "on-disk")
    import_job(other, file)
    assert verify(other).sound
    other.close()


def test_verifying_looks_at_the_store_and_not_at_copies(store: Store, tmp_path: Path) -> None:
    kept = store.originals
    assert isinstance(kept, ObjectOriginals)
    hashes = []
    for number in range(3):
        hashes.append(add_photograph(store, "J1", fakes.photo(tmp_path, number), PLACE).photograph.sha256)
    s3 = module._file_system("s3")
    s3.pipe_file(kept.kept(hashes[0]).url, b"other")
    s3.rm_file(kept.kept(hashes[1]).url)
    s3.pipe_file(f"{kept.url}/originals/stray.jpg", b"stray")
    found = {finding.kind for finding in verify(store).findings}
    assert found == {"original altered", "original missing", "stray file"}


def test_a_missing_original_fails_alone(store: Store, tmp_path: Path) -> None:
    kept = store.originals
    assert isinstance(kept, ObjectOriginals)
    for number in range(2):
        add_photograph(store, "J1", fakes.photo(tmp_path, number), PLACE)
    gone = photographs_of(store, "J1")[0]
    module._file_system("s3").rm_file(kept.kept(gone.sha256).url)
    kept.kept(gone.sha256).path.unlink()
    run = measure_job(store, "J1", measure=fakes.measure, workers=1)
    assert (run.measured, len(run.failed)) == (1, 1)
    assert "missing" in run.failed[0]


def test_the_shops_tables_lie_beside_the_originals(store: Store, tmp_path: Path) -> None:
    assert not store.own_tables.exists()
    text = SHIPPED.read_text(encoding="utf-8")
    store.own_tables.write_text(text, encoding="utf-8")
    store.originals.share(TABLES_FILE)
    other = ObjectOriginals(store.place, tmp_path / "there")
    assert other.shared_file(TABLES_FILE).read_text(encoding="utf-8") == text
    assert tables_of(store).ladder


def test_no_bucket_no_keys_and_no_server_are_sentences(
    bucket: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    url = str(sqlite_url(tmp_path / "db.sqlite"))
    with pytest.raises(OriginalsUnreachable, match="cannot be used"):
        open_store("s3://there-is-no-such-bucket/shop", url=url)
    module._file_system.cache_clear()
    monkeypatch.setenv("AWS_ENDPOINT_URL", "http://127.0.0.1:9")
    with pytest.raises(OriginalsUnreachable, match=r"cannot be used .* try again"):
        open_store(f"{bucket}/shop", url=url)
    module._file_system.cache_clear()


def test_refused_access_is_a_sentence(kept: ObjectOriginals, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError("Access Denied")

    monkeypatch.setattr(module._file_system("s3"), "info", refuse)
    with pytest.raises(OriginalsUnreachable, match=r"does not let this computer use .*Access Denied"):
        kept.mark("README.txt", "words")


def test_a_store_needs_a_database_and_a_known_kind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    monkeypatch.delenv("DEFECTMAP_DATABASE", raising=False)
    with pytest.raises(RecordUnavailable, match="name a PostgreSQL database"):
        open_store("memory://shop")
    with pytest.raises(RecordUnavailable, match="name a folder, or an object store"):
        open_store("https://example.org/shop", url="sqlite://")


def test_what_names_a_place() -> None:
    assert record_place("/paint/here") == Path("/paint/here")
    assert record_place("file:///paint/my%20shop") == Path("/paint/my shop")
    assert record_place("s3://bucket/shop") == "s3://bucket/shop"
    assert without_secrets("s3://name:word@host/shop") == "s3://host/shop"
