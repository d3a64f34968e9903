"""Who measures which photograph just now, so that several bays share a job and none repeats another's work.

A lease is a row with an end. Its holder moves the end on while it works; when a holder dies, its leases run
out and others take the photographs. A result is kept before its lease is given back, so whoever gets a lease
sees every result that was made under the one before.
"""

from __future__ import annotations

import os
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from sqlalchemy import delete, select, update
from sqlalchemy.dialects.postgresql import insert as insert_postgresql
from sqlalchemy.dialects.sqlite import insert as insert_sqlite
from sqlalchemy.exc import SQLAlchemyError
from sqlalchemy.orm import Session

from defectmap.record import model
from defectmap.record.rows import new_id
from defectmap.record.store import Store

LONGEST_S = 3600.0  # a lease that ends later was made by a clock that has been set back since
LEASE_S = 60.0  # bays' clocks may differ by some seconds; a photograph takes one to fifteen


@dataclass(frozen=True, slots=True, kw_only=True)
class Leased:
    """What is leased: one photograph with all that decides its result."""

    photograph_id: str
    settings_sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Holder:
    """One run that holds leases."""

    store: Store
    id: str = field(default_factory=lambda: f"{socket.gethostname()} {os.getpid()} {new_id()}")

    def take(self, item: Leased) -> str:
        """Try to lease a photograph.

        Returns
        -------
        str
            "taken"; "measured" where another has kept its result; "elsewhere" while another holds it.
        """
        now = self.store.clock()
        with self.store.writing() as session:
            over = (model.Lease.until < now) | (model.Lease.until > _later(now, LONGEST_S))
            session.execute(delete(model.Lease).where(over))
            _drop_dead(session)
            if not self._insert(session, item, _later(now)):
                return "elsewhere"
            kept = select(model.Measurement.id).where(
                model.Measurement.photograph_id == item.photograph_id,
                model.Measurement.settings_sha256 == item.settings_sha256,
            )
            if session.scalars(kept).first() is None:
                return "taken"
            self._delete(session, item)
            return "measured"

    def give_back(self, item: Leased) -> None:
        """End a lease, its result kept or not."""
        with self.store.writing() as session:
            self._delete(session, item)

    def move_on(self) -> None:
        """Move the end of every lease held."""
        with self.store.writing() as session:
            mine = update(model.Lease).where(model.Lease.holder == self.id)
            session.execute(mine.values(until=_later(self.store.clock())))

    @contextmanager
    def at_work(self) -> Iterator[None]:
        """Move the leases on while the block runs; give all back at its end."""
        ended = threading.Event()

        def keep_moving() -> None:
            while not ended.wait(LEASE_S / 3):
                with suppress(SQLAlchemyError):  # the record is busy or out of reach: the next time, then
                    self.move_on()

        mover = threading.Thread(target=keep_moving, daemon=True)
        mover.start()
        try:
            yield
        finally:
            ended.set()
            mover.join()
            with self.store.writing() as session:
                session.execute(delete(model.Lease).where(model.Lease.holder == self.id))

    def _insert(self, session: Session, item: Leased, until: str) -> bool:
        row = {"photograph_id": item.photograph_id, "settings_sha256": item.settings_sha256}
        row |= {"holder": self.id, "until": until}
        on_postgresql = session.get_bind().dialect.name == "postgresql"
        make = insert_postgresql if on_postgresql else insert_sqlite
        new = make(model.Lease).values(row).on_conflict_do_nothing().returning(model.Lease.holder)
        return session.scalars(new).first() is not None

    def _delete(self, session: Session, item: Leased) -> None:
        session.execute(
            delete(model.Lease).where(
                model.Lease.photograph_id == item.photograph_id,
                model.Lease.settings_sha256 == item.settings_sha256,
                model.Lease.holder == self.id,
            )
        )


def _drop_dead(session: Session) -> None:
    """End the leases of runs of this computer that were killed, so that nobody waits for them."""
    if os.name != "posix":
        return  # there a process cannot be asked whether it lives without harming it
    for holder in session.scalars(select(model.Lease.holder).distinct()).all():
        computer, process, _ = holder.rsplit(" ", 2)
        if computer == socket.gethostname() and not _lives(int(process)):
            session.execute(delete(model.Lease).where(model.Lease.holder == holder))


def _lives(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True  # somebody else's
    return True


def _later(now: str, by_s: float | None = None) -> str:
    later = datetime.fromisoformat(now) + timedelta(seconds=LEASE_S if by_s is None else by_s)
    return later.isoformat(timespec="microseconds")
