"""Opening the database of a record: transactions begun by hand, migrations, and refusals that say what to do.

A new record is made from the tables of `model` and `logbook`, an older one is migrated to them.

SQLite: write-ahead log, foreign keys enforced, every commit flushed to the disk, one connection a call, and a
writer takes the write lock when it begins (`BEGIN IMMEDIATE`), so that two writers queue instead of failing
half-way. The write-ahead log needs shared memory: a SQLite record must not lie on a network share; several
bays on one record use PostgreSQL.
"""

from __future__ import annotations

import os
import sqlite3
import time
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, inspect, pool, text
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, DatabaseError, NoSuchModuleError, OperationalError

from defectmap.errors import RecordBusy, RecordTooNew, RecordUnavailable
from defectmap.record import logbook

HEAD = "0005"  # the newest migration; a test holds it against the migrations folder
WRITING = "defectmap_writing"  # execution option of a connection that will write
BUSY_TIMEOUT_S = 30.0
MIGRATION_LOCK = 0x6465666D  # any fixed number; PostgreSQL's advisory locks are numbered


def sqlite_url(file: Path) -> URL:
    """URL of a SQLite record in that file, whatever characters its path holds."""
    return URL.create("sqlite+pysqlite", database=str(file))


def open_database(url: str | URL) -> Engine:
    """Open the database and bring it up to date.

    Parameters
    ----------
    url : str or URL
        SQLAlchemy URL of a SQLite or PostgreSQL database.

    Returns
    -------
    sqlalchemy.Engine
        Transactions begin by hand; see `WRITING`.

    Raises
    ------
    RecordUnavailable
        The URL is not understood, the server does not answer, or the file is no database.
    RecordTooNew
        A newer version of this program wrote the record.
    """
    engine = _engine(url)
    try:
        _bring_up_to_date(engine, url)
    except BaseException:
        engine.dispose()
        raise
    return engine


def _bring_up_to_date(engine: Engine, url: str | URL) -> None:
    try:
        with engine.connect() as connection:
            revision = _revision(connection)
        if revision != HEAD:
            _migrate(engine)
    except OperationalError as error:
        raise unavailable(error) from error
    except DatabaseError as error:
        raise RecordUnavailable(
            f"The record at {_without_password(url)} is not a database that can be read ({error.orig}); "
            "restore it from a copy, or choose another folder."
        ) from error


def unavailable(error: OperationalError) -> RecordBusy | RecordUnavailable:
    """Turn the driver's words into ours."""
    words = str(error.orig)
    if "locked" in words or "busy" in words:
        return RecordBusy(
            f"Another program has kept the record locked for {BUSY_TIMEOUT_S:.0f} s; "
            "close it there, then repeat."
        )
    if "readonly" in words:
        return RecordUnavailable(
            "The record can be read but not changed, as its folder or disk is read-only; copy it to one that "
            "can be written to."
        )
    return RecordUnavailable(
        f"The record cannot be opened ({words.strip()}); check the folder or the URL, that it may be "
        "written, and that its disk has room."
    )


def _engine(url: str | URL) -> Engine:
    try:
        parsed = make_url(url)
        if parsed.get_backend_name() not in {"sqlite", "postgresql"}:
            raise RecordUnavailable(
                f"A record lives in SQLite or PostgreSQL, not in {parsed.get_backend_name()!r}; "
                "give such a URL."
            )
        if parsed.get_backend_name() == "sqlite":
            return _sqlite_engine(url)
        return create_engine(url, pool_pre_ping=True)
    except (ArgumentError, NoSuchModuleError) as error:
        raise RecordUnavailable(
            f"This database URL is not understood ({error}); check how it is spelt."
        ) from error
    except ModuleNotFoundError as error:
        raise RecordUnavailable(
            f"The driver {error.name!r} for this database is missing; install defectmap[postgresql]."
        ) from error


def _sqlite_engine(url: str | URL) -> Engine:
    # One connection a call (NullPool): threads and forked workers never share one.
    to_read = _to_read_only(url)
    engine = create_engine(to_read or url, poolclass=pool.NullPool, connect_args={"timeout": BUSY_TIMEOUT_S})

    @event.listens_for(engine, "connect")
    def _on_connect(connection: sqlite3.Connection, _record: Any) -> None:
        connection.isolation_level = None  # the driver must not begin or commit on its own
        connection.execute(f"PRAGMA busy_timeout={int(BUSY_TIMEOUT_S * 1000)}")
        if to_read is None:
            _keep_a_log(connection)
        connection.execute("PRAGMA synchronous=FULL")
        connection.execute("PRAGMA foreign_keys=ON")

    @event.listens_for(engine, "begin")
    def _on_begin(connection: Connection) -> None:
        writing = connection.get_execution_options().get(WRITING, False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")

    return engine


def _to_read_only(url: str | URL) -> URL | None:
    """URL that opens a SQLite record for reading where nothing may be written, as on a disk kept for safety.

    The write-ahead log needs to write even for reading; `immutable` does without, and passes over a log. So a
    record whose log holds something is not opened that way.
    """
    file = Path(make_url(url).database or "")
    if not file.is_file() or (os.access(file, os.W_OK) and os.access(file.parent, os.W_OK)):
        return None
    log = file.with_name(f"{file.name}-wal")
    if log.is_file() and log.stat().st_size:
        raise RecordUnavailable(
            f"The record in {file.parent} cannot be written to and was not closed properly; copy the whole "
            "folder to a disk that can be written to, and open it there."
        )
    query = {"mode": "ro", "immutable": "1", "uri": "true"}
    return URL.create("sqlite+pysqlite", database=file.absolute().as_uri(), query=query)


def _keep_a_log(connection: sqlite3.Connection) -> None:
    """Switch a new file to the write-ahead log; one that has it already is left alone.

    The switch wants the file for itself, and SQLite does not wait for that: it answers "locked" at once where
    two programs open a new record together, whatever the busy timeout, so the waiting is done here.
    """
    give_up_s = time.monotonic() + BUSY_TIMEOUT_S
    while True:
        try:
            connection.execute("PRAGMA journal_mode=WAL")
            return
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or time.monotonic() > give_up_s:
                raise
        time.sleep(0.02)


def _revision(connection: Connection) -> str | None:
    if not inspect(connection).has_table("alembic_version"):
        return None
    found = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    return None if found is None else str(found)


def _migrate(engine: Engine) -> None:
    # alembic is slow to import and only needed here.
    from alembic import command
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    known = {script.revision for script in ScriptDirectory.from_config(config).walk_revisions()}
    with engine.connect().execution_options(**{WRITING: True}) as connection, connection.begin():
        if engine.dialect.name == "postgresql":
            # Two bays that open a new record at once: the second waits, then finds it done.
            connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": MIGRATION_LOCK})
        revision = _revision(connection)
        if revision is not None and revision not in known:
            raise RecordTooNew(
                f"This record was written by a newer version of defectmap (its form is {revision}, this "
                f"program knows up to {HEAD}); update defectmap, nothing was changed."
            )
        config.attributes["connection"] = connection
        if revision is None:  # new: made as the model says, and needs none of the changes of older ones
            logbook.JOB_TABLES[0].metadata.create_all(connection)
            command.stamp(config, "head")
        else:
            command.upgrade(config, "head")


def _without_password(url: str | URL) -> str:
    return make_url(url).render_as_string(hide_password=True)
