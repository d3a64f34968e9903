"""Records for the tests of the trade rules, built without a database."""

from __future__ import annotations

from itertools import count
from typing import Any

from defectmap.trade.facts import PanelHistory, PanelRecord, ReadingRecord, StepRecord

_SECONDS = count()


def now() -> str:
    tick = next(_SECONDS)
    return f"2026-03-02T{tick // 3600:02d}:{tick // 60 % 60:02d}:{tick % 60:02d}.000000+00:00"


def panel(**given: Any) -> PanelRecord:
    values = {
        "id": "p",
        "job_id": "j",
        "name": "bonnet",
        "position": 0,
        "material": "steel",
        "area_m2": 1.5,
        "repainted": "unknown",
        "clear_coat_um": None,
        "catches_nail": False,
        "version": 1,
    }
    return PanelRecord(**{**values, **given})


def step(
    kind: str, *, spot: str | None = None, rung: str | None = None, removal: tuple[float, float] = (0, 0)
) -> StepRecord:
    return StepRecord(
        id="s",
        kind=kind,
        spot=spot,
        rung=rung,
        product="",
        pad="",
        machine="",
        sets=1,
        section_s=None,
        removal_low_um=removal[0],
        removal_high_um=removal[1],
        warnings=(),
        at=now(),
    )


def readings(*values: float, place: str = "middle", **given: Any) -> tuple[ReadingRecord, ...]:
    """Readings of one place, in this order; `given` is the same for all of them."""
    return tuple(
        ReadingRecord(
            **{"id": "r", "place": place, "value_um": value, "entered": f"{value} um", "at": now(), **given}
        )
        for value in values
    )


def history(*steps: StepRecord, **given: Any) -> PanelHistory:
    return PanelHistory(**{"panel": panel(), "steps": steps, **given})
