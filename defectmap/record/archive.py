"""Job files (zip) read with distrust: what may be in one, how large it may be, and nothing else.

A job file holds `manifest.json`, `job.json`, `results/<id>.json` and `originals/<sha256>`, no folders and no
other names. Names from the file are never used as paths. Originals are stored, not compressed (a photograph
does not shrink), so they cannot grow on reading; the JSON parts have a limit on size and on how much they
may unpack.
"""

from __future__ import annotations

import re
import stat
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from defectmap.errors import JobError, UnsafeArchive
from defectmap.record.originals import MAX_FILE_BYTES, hash_of

MANIFEST, JOB = "manifest.json", "job.json"
RESULT_NAME = re.compile(r"results/([0-9a-f]{32})\.json")
ORIGINAL_NAME = re.compile(r"originals/([0-9a-f]{64})")
MAX_MEMBERS = 100_000
MAX_JSON_BYTES = 256 * 2**20
MAX_ALL_JSON_BYTES = 8 * 2**30
MAX_RATIO = 200  # JSON of numbers shrinks 3 to 20 times; a bomb thousands of times
LOCAL_HEADER_BYTES = 30  # fixed part of a member's own header (PKWARE APPNOTE, 4.3.7)
ENCRYPTED = 0x1  # general purpose bit 0 (APPNOTE, 4.4.4)


class JobArchive:
    """A job file whose table of contents was found harmless."""

    def __init__(self, file: zipfile.ZipFile, name: str) -> None:
        """Check every entry of the table of contents before any is read."""
        self._file = file
        self.name = name
        self.members = _checked(file, name)

    def read_json(self, member: str) -> bytes:
        """Read a JSON part whole.

        Raises
        ------
        UnsafeArchive
            It is absent, or damaged.
        """
        with self.open(member) as part:
            return part.read(MAX_JSON_BYTES + 1)

    @contextmanager
    def open(self, member: str) -> Iterator[IO[bytes]]:
        """Open one part for reading; damage shows as `UnsafeArchive`."""
        if member not in self.members:
            raise UnsafeArchive(f"{self.name} has no {member}: it is not a whole job file; export it again.")
        try:
            with self._file.open(self.members[member]) as part:
                yield part
        except (
            zipfile.BadZipFile,
            zlib.error,
            EOFError,
            OSError,
            NotImplementedError,
            RuntimeError,
        ) as error:
            raise UnsafeArchive(
                f"{member} in {self.name} is damaged ({error}); get an undamaged copy of the job file."
            ) from error

    def sha256(self, member: str) -> str:
        """Hash of one part's content."""
        with self.open(member) as part:
            return hash_of(part)


@contextmanager
def open_archive(path: Path) -> Iterator[JobArchive]:
    """Open a job file for reading.

    Raises
    ------
    UnsafeArchive
        It is no zip, or holds anything that a job file does not hold; the message names it.
    """
    if not path.is_file():
        raise JobError(f"File not found: {path}; check the name and the folder.")
    try:
        file = zipfile.ZipFile(path)
    except (OSError, zipfile.BadZipFile, ValueError, NotImplementedError) as error:
        raise UnsafeArchive(f"{path.name} is not a job file ({error}); choose one made by export.") from error
    with file:
        yield JobArchive(file, path.name)


def _checked(file: zipfile.ZipFile, name: str) -> dict[str, zipfile.ZipInfo]:
    infos = file.infolist()
    if len(infos) > MAX_MEMBERS:
        raise UnsafeArchive(f"{name} has {len(infos)} parts, more than a job can have; it was not imported.")
    members: dict[str, zipfile.ZipInfo] = {}
    for info in infos:
        problem = _problem(info)
        if info.filename in members:
            problem = "stands twice in it"
        if problem is not None:
            # The name is data of a stranger: shown as a literal, so that it cannot drive a terminal.
            raise UnsafeArchive(
                f"{name} holds {info.orig_filename!r}, which {problem}; nothing was imported."
            )
        members[info.filename] = info
    _check_overlap(infos, name)
    json_bytes = sum(info.file_size for info in infos if not ORIGINAL_NAME.fullmatch(info.filename))
    if json_bytes > MAX_ALL_JSON_BYTES:
        raise UnsafeArchive(f"{name} would unpack to more than a job can hold; it was not imported.")
    return members


def _problem(info: zipfile.ZipInfo) -> str | None:
    is_original = ORIGINAL_NAME.fullmatch(info.filename) is not None
    is_json = info.filename in (MANIFEST, JOB) or RESULT_NAME.fullmatch(info.filename) is not None
    if info.orig_filename != info.filename or not (is_original or is_json):
        return "is not the name of any part of a job file"
    if stat.S_ISLNK(info.external_attr >> 16):
        return "is a link"
    if info.flag_bits & ENCRYPTED:
        return "is encrypted"
    if is_original:
        if info.compress_type != zipfile.ZIP_STORED or info.compress_size != info.file_size:
            return "is a compressed photograph, as no job file has"
        return "is larger than a photograph" if info.file_size > MAX_FILE_BYTES else None
    if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        return "is compressed in a way that job files do not use"
    if info.file_size > MAX_JSON_BYTES:
        return f"would unpack to more than {MAX_JSON_BYTES >> 20} MiB"
    if info.file_size > 2**20 and info.file_size > MAX_RATIO * max(1, info.compress_size):
        return f"would unpack to more than {MAX_RATIO} times its size"
    return None


def _check_overlap(infos: list[zipfile.ZipInfo], name: str) -> None:
    """Two entries that share bytes are the trick by which a small zip unpacks to petabytes."""
    end = 0
    for info in sorted(infos, key=lambda info: info.header_offset):
        if info.header_offset < end:
            raise UnsafeArchive(
                f"{name}: {info.filename!r} shares bytes with another part; nothing was imported."
            )
        end = info.header_offset + LOCAL_HEADER_BYTES + len(info.filename) + info.compress_size
