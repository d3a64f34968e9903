"""How far the films are that are being measured just now, in whatever process, for pages and terminal alike.

A film takes as long as some twenty photographs. Whoever measures one writes how far it is into a small file
beside the place where the result will lie; a file that has not changed for a while is of a run that died.
"""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from defectmap.film.looking import FilmProgress

_ENDING = ".doing"
_WRITE_EVERY_S = 0.3
_STALE_AFTER_S = (
    120.0  # joining the marks of sixty frames takes some ten seconds, and a slow computer three times
)


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmUnderWay:
    """One film that is being measured."""

    what: str  # as `measure_film` tells it
    done: int
    whole: int


@contextmanager
def telling(place: Path) -> Iterator[FilmProgress]:
    """While the block runs, what it is told stands beside a place on the shelf.

    Parameters
    ----------
    place : Path
        See `shelf.place_of`.
    """
    file = place.with_suffix(_ENDING)
    told: list[tuple[str, float]] = []

    def tell(what: str, done: int, whole: int) -> None:
        now = time.monotonic()
        if told and told[-1][0] == what and now - told[-1][1] < _WRITE_EVERY_S:
            return
        told[:] = [(what, now)]
        try:
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(json.dumps([what, done, whole]), encoding="utf-8")
        except OSError:
            return  # a full disk must not cost the film

    try:
        yield tell
    finally:
        with suppress(OSError):
            file.unlink(missing_ok=True)


def under_way(place: Path) -> FilmUnderWay | None:
    """How far the film is whose result will lie at that place; None where nobody is at it."""
    file = place.with_suffix(_ENDING)
    try:
        if time.time() - file.stat().st_mtime > _STALE_AFTER_S:
            return None
        what, done, whole = json.loads(file.read_text(encoding="utf-8"))
        return FilmUnderWay(what=str(what), done=int(done), whole=int(whole))
    except (OSError, ValueError, TypeError):
        return None
