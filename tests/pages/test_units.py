"""A shop that works in inch and mil meets no millimetre and no µm of film on any page."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from defectmap.pages.frame import PAGES
from defectmap.record.agreed import target_words
from defectmap.record.jobs import change_job, job_named
from defectmap.record.shop_style import change_style
from defectmap.record.store import Store
from defectmap.record.thickness_entries import add_readings
from defectmap.trade.facts import Target
from tests.pages.conftest import JOB, open_page, words

METRIC = re.compile(r"\d\s?(mm|cm²|µm)\b|mm/cm²")
# The strength of a mark is a width of light, not a thickness of paint: µm everywhere, as in the results.
OPTICAL = re.compile(r"(≥ |At or above )?\d+ µm(: \d| strong)")


@pytest.fixture
def inches(store: Store) -> Store:
    change_style(store, {"length": "inch", "unit": "mil"})
    add_readings(store, JOB, "bonnet", "middle", (118, 120, 119), unit="um")
    return store


def labels(app: object) -> str:
    kinds = ("text_input", "number_input", "selectbox", "radio", "metric", "expander", "toggle")
    shown = [str(getattr(one, "label", "")) for kind in kinds for one in app.get(kind)]  # type: ignore[attr-defined]
    values = [str(one.value) for one in app.get("metric")]  # type: ignore[attr-defined]
    tables = [one.value.to_csv() for one in app.table]  # type: ignore[attr-defined]
    return "\n".join([*shown, *values, *tables])


@pytest.mark.parametrize("name", [name for name in PAGES if name != "set_up"])
def test_no_page_is_metric(inches: Store, record: Path, name: str) -> None:
    app = open_page(name)
    assert not app.error
    said = OPTICAL.sub("", words(app).replace("\\", "") + labels(app))
    assert METRIC.findall(said) == [], [line for line in said.splitlines() if METRIC.search(line)]


def test_what_is_agreed_in_inches_is_kept_in_mm(inches: Store, record: Path) -> None:
    app = open_page("next_step")
    field = next(n for n in app.number_input if n.label.startswith("Longest scratch at most, in"))
    field.set_value(2.0)
    next(n for n in app.number_input if n.label.startswith("Marks at most, in/in²")).set_value(0.508)
    next(b for b in app.button if b.label == "Keep what is agreed").click().run()
    target = job_named(inches, JOB).target
    assert target.longest_scratch_mm == pytest.approx(50.8)
    assert target.density_mm_per_cm2 == pytest.approx(2.0)


def test_a_target_that_nobody_touched_stays_exact(inches: Store, record: Path) -> None:
    agreed = Target(density_mm_per_cm2=2.0, longest_scratch_mm=33.0)
    change_job(inches, JOB, seen_version=1, target=agreed)
    app = open_page("next_step")
    next(n for n in app.number_input if n.label.startswith("Haze at most")).set_value(0.2)
    next(b for b in app.button if b.label == "Keep what is agreed").click().run()
    kept = job_named(inches, JOB).target
    assert (kept.density_mm_per_cm2, kept.longest_scratch_mm, kept.haze) == (2.0, 33.0, 0.2)
    assert target_words(kept).startswith("at most 2 mm/cm²")
