"""What tests share: a record on SQLite, and on PostgreSQL where Debian's server is installed."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path

import pytest
from sqlalchemy import make_url

from defectmap.record.jobs import create_job
from defectmap.record.model import Base
from defectmap.record.store import Store, open_store
from tests.record.fakes import PANELS

_NUMBERS = count()


def _server_programs() -> Path | None:
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/pg_ctl"))
    on_path = shutil.which("pg_ctl")
    return found[-1].parent if found else Path(on_path).parent if on_path else None


def _why_not() -> str | None:
    if os.environ.get("CI"):
        return "PostgreSQL is not started in CI"
    if _server_programs() is None:
        return "PostgreSQL's server is not installed (Debian: apt-get install postgresql)"
    try:
        import psycopg  # noqa: F401
    except ImportError:
        return "the driver psycopg is not installed (pip install defectmap[postgresql])"
    return None


class Server:
    """A PostgreSQL server of this test session alone: own folder, own socket, no network."""

    def __init__(self) -> None:
        programs = _server_programs()
        assert programs is not None
        self.programs = programs
        self.shared: str | None = None
        # The socket's path may have at most 107 bytes, so pytest's long folders do not do.
        self.folder = Path(tempfile.mkdtemp(prefix="dm-pg-"))
        # The server refuses to run as root; Debian's package brings the user for it.
        self.as_user = ["setpriv", "--reuid=postgres", "--regid=postgres", "--clear-groups"]
        if os.geteuid() != 0:
            self.as_user = []
        else:
            shutil.chown(self.folder, "postgres", "postgres")
        self._run("initdb", "-D", f"{self.folder}/data", "-A", "trust", "-U", "postgres", "-E", "UTF8", "-N")
        options = f"-c listen_addresses='' -c unix_socket_directories={self.folder} -c fsync=off"
        self._run(
            "pg_ctl", "-D", f"{self.folder}/data", "-l", f"{self.folder}/log", "-w", "-o", options, "start"
        )

    def _run(self, program: str, *arguments: str) -> None:
        command = [*self.as_user, str(self.programs / program), *arguments]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, timeout=60, cwd="/")

    def url(self, database: str) -> str:
        return f"postgresql+psycopg://postgres@/{database}?host={self.folder}"

    def new_database(self) -> str:
        """URL of an empty database."""
        import psycopg

        name = f"record_{next(_NUMBERS)}"
        with psycopg.connect(
            f"host={self.folder} user=postgres dbname=postgres", autocommit=True
        ) as connection:
            connection.execute(f"CREATE DATABASE {name}")
        return self.url(name)

    def emptied_database(self) -> str:
        """URL of one database that all tests share, one after the other, with nothing in it."""
        if self.shared is None:
            self.shared = self.new_database()
            return self.shared
        import psycopg

        with psycopg.connect(f"host={self.folder} user=postgres dbname={self.shared_name}") as connection:
            for table in reversed(Base.metadata.sorted_tables):  # children first
                connection.execute(f"DELETE FROM {table.name}")
        return self.shared

    @property
    def shared_name(self) -> str:
        assert self.shared is not None
        return str(make_url(self.shared).database)

    def stop(self) -> None:
        self._run("pg_ctl", "-D", f"{self.folder}/data", "-m", "immediate", "-w", "stop")
        shutil.rmtree(self.folder, ignore_errors=True)


@pytest.fixture(scope="session")
def postgresql() -> Iterator[Server]:
    reason = _why_not()
    if reason is not None:
        pytest.skip(reason)
    server = Server()
    yield server
    server.stop()


@pytest.fixture(params=["sqlite", "postgresql"])
def record_url(request: pytest.FixtureRequest) -> str | None:
    """URL for `open_store`: None is SQLite in the folder."""
    if request.param == "sqlite":
        return None
    server: Server = request.getfixturevalue("postgresql")
    return server.emptied_database()


@pytest.fixture
def clock() -> Callable[[], str]:
    """A clock that moves one second a look, so that the order of entries is known."""
    seconds = count()

    def now() -> str:
        tick = next(seconds)
        return f"2026-03-02T{8 + tick // 3600:02d}:{tick // 60 % 60:02d}:{tick % 60:02d}.000000+00:00"

    return now


@pytest.fixture(scope="session")
def empty_sqlite(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A new SQLite record, copied for each test: migrating takes longer than most tests."""
    folder = tmp_path_factory.mktemp("empty")
    open_store(folder).close()
    return folder / "record.sqlite"


@pytest.fixture
def store(
    tmp_path: Path, record_url: str | None, clock: Callable[[], str], empty_sqlite: Path
) -> Iterator[Store]:
    """An empty record."""
    if record_url is None:
        (tmp_path / "record").mkdir()
        shutil.copy(empty_sqlite, tmp_path / "record")
    opened = open_store(tmp_path / "record", url=record_url, clock=clock)
    yield opened
    opened.close()


@pytest.fixture
def job(store: Store) -> str:
    """Reference of a job with a bonnet and a roof."""
    return create_job(store, "J1", panels=PANELS).reference
