"""Kept originals: unchanged, whole or absent, never overwritten."""

from __future__ import annotations

import hashlib
import io
import os
from pathlib import Path

import pytest

from defectmap.errors import BadPhotographFile, OriginalDamaged
from defectmap.record import originals as module
from defectmap.record.disk_originals import DiskOriginals
from tests.record.fakes import photo

# FIPS 180-4's example message "abc" and its published SHA-256 digest
ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


@pytest.fixture
def kept(tmp_path: Path) -> DiskOriginals:
    return DiskOriginals(tmp_path / "record")


def test_a_file_is_named_by_its_sha256(kept: DiskOriginals) -> None:
    found = kept.keep_stream(io.BytesIO(b"abc"), name="abc.jpg")
    assert (found.sha256, found.size_bytes) == (ABC, 3)
    assert kept.kept(ABC).path.read_bytes() == b"abc"
    assert kept.leftovers() == ()


def test_the_source_is_not_touched(kept: DiskOriginals, tmp_path: Path) -> None:
    source = photo(tmp_path, 1)
    before = source.read_bytes(), source.stat().st_mtime_ns, source.stat().st_mode
    kept.keep(source)
    assert (source.read_bytes(), source.stat().st_mtime_ns, source.stat().st_mode) == before


def test_keeping_twice_keeps_one(kept: DiskOriginals, tmp_path: Path) -> None:
    source = photo(tmp_path, 1)
    first = kept.keep(source)
    inode = kept.kept(first.sha256).path.stat().st_ino
    assert kept.keep(source) == first
    assert kept.kept(first.sha256).path.stat().st_ino == inode
    assert len(list(kept.strays(()))) == 1


@pytest.mark.skipif(os.name != "posix", reason="file modes are POSIX's")
def test_a_kept_file_is_read_only(kept: DiskOriginals, tmp_path: Path) -> None:
    assert kept.kept(kept.keep(photo(tmp_path, 1)).sha256).path.stat().st_mode & 0o222 == 0


def test_a_damaged_original_is_named_and_not_overwritten(kept: DiskOriginals, tmp_path: Path) -> None:
    source = photo(tmp_path, 1)
    place = kept.kept(kept.keep(source).sha256).path
    place.chmod(0o644)
    place.write_bytes(b"something else")
    assert kept.state(place.name) == "altered"
    with pytest.raises(OriginalDamaged, match="not overwritten"):
        kept.keep(source)
    assert place.read_bytes() == b"something else"
    assert kept.leftovers() == ()


def test_other_bytes_than_announced_are_not_kept(kept: DiskOriginals) -> None:
    with pytest.raises(OriginalDamaged, match="listed under"):
        kept.keep_stream(io.BytesIO(b"abd"), name="x", expected_sha256=ABC)
    assert list(kept.strays(())) == []
    assert kept.leftovers() == ()


def test_empty_absent_and_huge_files_are_refused(
    kept: DiskOriginals, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(BadPhotographFile, match="empty"):
        kept.keep_stream(io.BytesIO(b""), name="x.jpg")
    with pytest.raises(BadPhotographFile, match="No such file"):
        kept.keep(tmp_path / "absent.jpg")
    with pytest.raises(BadPhotographFile):
        kept.keep(tmp_path)
    monkeypatch.setattr(module, "MAX_FILE_BYTES", 10)
    with monkeypatch.context() as patch:
        patch.setattr(kept, "keep_stream", None)  # judged before a byte is copied
        with pytest.raises(BadPhotographFile, match="larger"):
            kept.keep(photo(tmp_path, 1))
    with pytest.raises(BadPhotographFile, match="larger"):
        kept.keep_stream(io.BytesIO(b"x" * 11), name="x.jpg")
    assert list(kept.strays(())) == []
    assert kept.leftovers() == ()


def test_a_file_system_without_hard_links_does_too(
    kept: DiskOriginals, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", refuse)
    found = kept.keep(photo(tmp_path, 1))
    assert kept.state(found.sha256) == "whole"
    assert kept.keep(photo(tmp_path, 1)) == found
    assert kept.leftovers() == ()


def test_only_old_leftovers_are_tidied_away(kept: DiskOriginals) -> None:
    leftover = kept.incoming / "a.part"
    leftover.write_bytes(b"half")
    written = leftover.stat().st_mtime
    assert kept.tidy(now_s=written + 3600) == ()
    assert kept.tidy(now_s=written + 25 * 3600) == (leftover,)
    assert not leftover.exists()


@pytest.mark.parametrize("name", ["", "../../etc/passwd", "AB" * 32, ABC + "0", ABC[:-1] + "\n"])
def test_only_a_hash_leads_to_a_path(kept: DiskOriginals, name: str) -> None:
    with pytest.raises(ValueError, match="not a SHA-256"):
        kept.kept(name)


def test_the_state_is_that_of_the_bytes(kept: DiskOriginals, tmp_path: Path) -> None:
    data = photo(tmp_path, 3).read_bytes()
    sha256 = hashlib.sha256(data).hexdigest()
    assert kept.state(sha256) == "missing"
    kept.keep_stream(io.BytesIO(data), name="x")
    assert kept.state(sha256) == "whole"
