"""The shop's trade tables: what they hold, and reading them from one TOML file with every error at its place.

The file that comes with the program (`tables.toml`) is complete. A shop's own file gives only what it
changes: single keys of a table (`[rates]`), or a list (`[[ladder]]`) as a whole. Every table says where its
figures come from (`source`), most of them `common practice, no source`, and is meant to be edited.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Annotated, Any

from annotated_types import MinLen

from defectmap.errors import TablesError
from defectmap.trade.table_forms import (
    Effect,
    FilmThickness,
    Form,
    Gauge,
    Goal,
    Grade,
    PanelRow,
    Protection,
    Rates,
    Rung,
    Sets,
    SurfaceRow,
    Times,
    Words,
)

SHIPPED = Path(__file__).with_name("tables.toml")


@dataclass(frozen=True, slots=True, kw_only=True)
class TradeTables(Form):
    """Everything in the file."""

    film: FilmThickness
    gauge: Gauge
    surface: tuple[SurfaceRow, ...]
    effect: Effect
    sets: Sets
    ladder: Annotated[tuple[Rung, ...], MinLen(1)]
    decontamination: Annotated[tuple[Grade, ...], MinLen(1)]
    protection: Annotated[tuple[Protection, ...], MinLen(1)]
    times: Times
    rates: Rates
    goal: Goal
    panels: Mapping[str, tuple[PanelRow, ...]]
    checklists: Mapping[str, tuple[Words, ...]]

    def __post_init__(self) -> None:
        """Refuse tables that contradict themselves."""
        _unique("surface", [row.key for row in self.surface])
        _unique("ladder", [rung.key for rung in self.ladder])
        _unique("protection", [kind.key for kind in self.protection])
        for kind, rows in self.panels.items():
            _unique(f"panels.{kind}", [row.name for row in rows])
        _rising("ladder", [(rung.key, rung.removal_um.high) for rung in self.ladder], "removal_um.high")
        if self.ladder[0].cut != "finishing":
            raise ValueError("ladder[0].cut: the first rung must be a finishing step, to finish down with")
        grades = [(grade.name, grade.up_to_months) for grade in self.decontamination]
        _rising("decontamination", grades, "up_to_months")
        if self.film.clear_um.high > self.film.whole_um.high:
            raise ValueError("film.clear_um: a clear coat cannot be thicker than the whole film")

    @property
    def ladder_keys(self) -> tuple[str, ...]:
        """Keys of the correction steps, least aggressive first."""
        return tuple(rung.key for rung in self.ladder)

    def rung(self, key: str) -> Rung:
        """The correction step of that key.

        Raises
        ------
        TablesError
            The tables have none.
        """
        for rung in self.ladder:
            if rung.key == key:
                return rung
        known = ", ".join(self.ladder_keys)
        raise TablesError(f"The trade tables have no correction step {key!r}; they have {known}.")


def load_tables(own: Path | None = None) -> TradeTables:
    """The shipped tables, with the keys that the shop's own file gives in their place.

    Parameters
    ----------
    own : Path, optional
        The shop's file; where it does not exist, the shipped tables are used.

    Raises
    ------
    TablesError
        The file is no TOML, or does not fit; `problems` lists every error as "place: what is wrong".
    """
    if own is None or not own.exists():
        return _shipped()
    try:
        given = tomllib.loads(own.read_text(encoding="utf-8"))
    except (ValueError, RecursionError, OSError) as error:
        raise TablesError(f"{own.name} cannot be read: {error}. Correct it there.", (str(error),)) from error
    return _validated(_merged(tomllib.loads(SHIPPED.read_text(encoding="utf-8")), given), own.name)


def _merged(shipped: Mapping[str, Any], given: Mapping[str, Any]) -> dict[str, Any]:
    both = {
        key: {**shipped[key], **value}
        if isinstance(value, dict) and isinstance(shipped.get(key), dict)
        else value
        for key, value in given.items()
    }
    return {**shipped, **both}


@cache
def _shipped() -> TradeTables:
    return _validated(tomllib.loads(SHIPPED.read_text(encoding="utf-8")), SHIPPED.name)


def _validated(content: Mapping[str, Any], name: str) -> TradeTables:
    # pydantic takes a tenth of a second to import, and only reading the file needs it.
    from pydantic import TypeAdapter, ValidationError

    try:
        return TypeAdapter(TradeTables).validate_python(content)
    except ValidationError as error:
        found = error.errors()
        below = {e["loc"][:depth] for e in found for depth in range(len(e["loc"]))}
        # A list whose items are all wrong is also reported as too short: the items say it better.
        problems = tuple(
            _problem(e["loc"], str(e.get("ctx", {}).get("error", e["msg"])))
            for e in found
            if not (e["loc"] and e["loc"] in below)
        )
        listed = "\n".join(f"  {problem}" for problem in problems)
        raise TablesError(
            f"{name} has {len(problems)} error(s); correct each there:\n{listed}", problems
        ) from None


def _problem(location: tuple[int | str, ...], message: str) -> str:
    place = "".join(f"[{part}]" if isinstance(part, int) else f".{part}" for part in location)
    return f"{place.removeprefix('.')}: {message}" if place else message


def _unique(place: str, keys: list[str]) -> None:
    for index, key in enumerate(keys):
        if key in keys[:index]:
            raise ValueError(f"{place}[{index}]: {key!r} stands there twice")


def _rising(place: str, rows: list[tuple[str, float]], what: str) -> None:
    for index in range(1, len(rows)):
        if rows[index][1] < rows[index - 1][1]:
            raise ValueError(
                f"{place}[{index}].{what}: {rows[index][0]!r} has less than {rows[index - 1][0]!r} "
                "before it; order from least to most"
            )
