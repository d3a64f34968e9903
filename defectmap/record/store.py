"""The record: one documented folder with a database and the kept originals.

    <folder>/
      README.txt        what lies here
      record.sqlite     the database (absent where a PostgreSQL URL is given)
      originals/ab/…    the photographs, unchanged, each named by the SHA-256 of its bytes
      incoming/         unfinished copies; a crash may leave some, they are never used
      tables.toml       the shop's own trade tables, if it has any

Copy the folder (with the program closed) and the record is copied. Each public function of this package
that writes does so in one transaction: after a crash it has happened, or it has not.

Where a URL of an object store is given for the folder, `originals/` and `tables.toml` lie there, the database
is one that is named, and what only this computer needs lies in the user's cache.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit
from urllib.request import url2pathname

from sqlalchemy import Engine, event
from sqlalchemy.exc import IntegrityError, OperationalError
from sqlalchemy.orm import Session

from defectmap.errors import ChangedMeanwhile, JobError, RecordUnavailable
from defectmap.record.database import WRITING, open_database, sqlite_url, unavailable
from defectmap.record.disk_originals import DiskOriginals
from defectmap.record.originals import Originals
from defectmap.record.sealing import sha256_of_text

FOLDER_VARIABLE = "DEFECTMAP_RECORD"
URL_VARIABLE = "DEFECTMAP_DATABASE"
DATABASE_FILE = "record.sqlite"
TABLES_FILE = "tables.toml"
README = "README.txt"
_README = Path(__file__).with_name("folder_readme.txt").read_text(encoding="utf-8")
_README_OF_OBJECTS = Path(__file__).with_name("objects_readme.txt").read_text(encoding="utf-8")


def utc_now() -> str:
    """Now, as the record writes times."""
    return datetime.now(UTC).isoformat(timespec="microseconds")


def record_place(named: str) -> Path | str:
    """The folder, or the URL of an object store, that a person or the environment names."""
    if named.startswith("file://"):
        return Path(url2pathname(urlsplit(named).path))
    return named if "://" in named else Path(named)


def default_place() -> Path | str:
    """Where the record lies: the environment's `DEFECTMAP_RECORD`, else the user's data folder."""
    from platformdirs import user_data_path

    named = os.environ.get(FOLDER_VARIABLE)
    return record_place(named) if named else user_data_path("defectmap", appauthor=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Store:
    """An open record; cheap to pass around, usable from several threads."""

    folder: Path  # on this computer; where the originals are in an object store, what else is needed of files
    engine: Engine
    originals: Originals
    clock: Callable[[], str] = utc_now
    place: str = ""  # the folder or URL, as it may be shown

    @property
    def own_tables(self) -> Path:
        """The shop's own trade tables, whether or not it has any."""
        return self.originals.shared_file(TABLES_FILE)

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """One consistent look at the record, whatever others write meanwhile."""
        engine = self.engine
        if engine.dialect.name == "postgresql":  # SQLite's readers see one moment by themselves
            engine = engine.execution_options(isolation_level="REPEATABLE READ")
        with _session(engine) as session:
            yield session

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """One transaction: everything in it happens, or nothing."""
        with _session(self.engine.execution_options(**{WRITING: True})) as session:
            yield session
            session.commit()

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()


class _CheckedSession(Session):
    """A session that lets no words in which one of the two databases could not hold."""


@event.listens_for(_CheckedSession, "before_flush")
def _check_words(session: Session, _context: Any, _instances: Any) -> None:
    for row in (*session.new, *session.dirty):
        for name, value in vars(row).items():
            if isinstance(value, str) and any(c == "\0" or "\ud800" <= c <= "\udfff" for c in value):
                raise JobError(f"The {name} {value!a} holds characters that cannot be stored; type it again.")


@contextmanager
def _session(engine: Engine) -> Iterator[Session]:
    try:
        with _CheckedSession(engine, expire_on_commit=False) as session:
            yield session
    except OperationalError as error:
        raise unavailable(error) from error
    except IntegrityError as error:
        # Only a second writer on PostgreSQL gets here: whatever else is wrong was looked for before writing.
        raise ChangedMeanwhile(
            "Somebody else entered the same thing at the same moment; look again, then repeat."
        ) from error


def open_store(
    place: Path | str | None = None, *, url: str | None = None, clock: Callable[[], str] = utc_now
) -> Store:
    """Open the record in a folder, creating it where there is none.

    Parameters
    ----------
    place : Path or str, optional
        Where the originals (and a SQLite database) live: a folder, or the URL of an object store such as
        `s3://bucket/paint`; `default_place()` if not given.
    url : str, optional
        SQLAlchemy URL of a PostgreSQL database shared by several bays; the environment's `DEFECTMAP_DATABASE`
        if not given, else SQLite in the folder. All bays then use one place for the originals.
    clock : callable
        Gives the time that entries are stamped with.

    Raises
    ------
    RecordUnavailable, RecordTooNew, RecordBusy
        The record cannot be opened; the message says why.
    """
    place = default_place() if place is None else record_place(place) if isinstance(place, str) else place
    url = url or os.environ.get(URL_VARIABLE) or None
    if isinstance(place, str):
        return _open_with_objects(place, url, clock)
    database = place / DATABASE_FILE
    readme = place / README
    try:
        originals = DiskOriginals(place)
        originals.tidy()
        if url is None and readme.exists() and database.exists() and database.stat().st_size == 0:
            raise RecordUnavailable(
                f"{database} is empty, though a record was kept there; put it back from a copy, or choose "
                "another folder for a new record."
            )
    except OSError as error:
        raise RecordUnavailable(
            f"The folder {place} cannot be used for the record ({error.strerror}); choose another."
        ) from error
    engine = open_database(url or sqlite_url(database))
    if not readme.exists():  # written last: where it lies, a record has been
        readme.write_text(_README, encoding="utf-8")
    return Store(folder=place, engine=engine, originals=originals, clock=clock, place=str(place))


def _open_with_objects(place: str, url: str | None, clock: Callable[[], str]) -> Store:
    from platformdirs import user_cache_path

    from defectmap.record.object_originals import ObjectOriginals, without_secrets

    shown = without_secrets(place)
    if url is None:
        raise RecordUnavailable(
            f"{shown} can hold the photographs but no database; name a PostgreSQL database, with --database "
            f"or in {URL_VARIABLE}."
        )
    folder = user_cache_path("defectmap", appauthor=False) / sha256_of_text(place.rstrip("/"))[:16]
    try:
        originals = ObjectOriginals(place, folder)
        originals.tidy()
    except OSError as error:
        raise RecordUnavailable(
            f"The folder {folder} cannot be used for copies of photographs ({error.strerror}); make room."
        ) from error
    originals.mark(README, _README_OF_OBJECTS)
    return Store(folder=folder, engine=open_database(url), originals=originals, clock=clock, place=shown)
