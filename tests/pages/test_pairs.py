"""Comparing on the pages and on the command line: one way, with what was corrected by hand."""

from __future__ import annotations

import base64
import io
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
import streamlit as st
from PIL import Image
from streamlit.delta_generator import DeltaGenerator

from defectmap.pages import cached, film_shown
from defectmap.pages.images import CROP_PX
from defectmap.pages.widgets import slider
from defectmap.panel.photo.photograph import load
from defectmap.pictures.crops import crop_pair
from defectmap.record import results
from defectmap.record.corrections import Exclusion
from defectmap.record.keeping import PhotoResult, results_of
from defectmap.record.results import compare
from defectmap.record.store import Store
from defectmap.record.whole import SpotPair, correct, measurement_of, spot_pairs
from defectmap.report.typical import job_results
from tests.pages.conftest import JOB, open_page, words

SIDES = ("Before", "After")


def leave_left_half_out(store: Store) -> None:
    """Correct the first photograph of the bonnet by hand, as the page does it."""
    result = next(one for one in results_of(store, JOB).values() if one.photograph.stage == "decontaminated")
    correct(store, result, [Exclusion(left=0, top=0, right=490, bottom=760)])


def test_a_correction_counts_in_the_comparison(record: Path, store: Store) -> None:
    plain = compare(store, JOB, "bonnet")
    leave_left_half_out(store)
    corrected = compare(store, JOB, "bonnet")
    assert any("Corrected by hand" in said for said in corrected.result["before"]["warnings"])
    # about half of the area that both photographs show is left, give or take where the lamp's disc lies
    areas = [found.result["spots"][0]["common_area_cm2"] for found in (corrected, plain)]
    assert 0.3 < areas[0] / areas[1] < 0.7
    assert compare(store, JOB, "bonnet").id == corrected.id


def test_a_spot_laid_on_itself_again_is_as_it_was_compared(record: Path, store: Store) -> None:
    found = compare(store, JOB, "bonnet")
    (pair,) = spot_pairs(store, JOB, found)
    said = found.result["spots"][0]
    assert pair.laid.alignment.right_mm == said["alignment"]["right_mm"]
    assert pair.laid.common_area_cm2 == said["common_area_cm2"]
    assert pair.laid.comparable.verdict == said["comparable"]
    by_figure = {change.figure: change for change in pair.laid.changes}
    assert by_figure["density all"].change_percent == said["density_mm_per_cm2"]["all"]["change_percent"]
    assert pair.before.photograph.stage == "decontaminated"
    assert len(pair.laid.before.marks) == len(measurement_of(store, pair.before).marks)


def test_an_interval_without_an_end_is_said_and_not_drawn(
    record: Path, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = compare(store, JOB, "bonnet")
    result: dict[str, Any] = {**found.result, "comparable": "yes"}
    change = {"before": 3.0, "after": 2.0, "change_percent": -33.0, "distinguishable": False}
    open_ended = {**change, "ci95_percent": [-60.0, None], "at_least_percent": None}
    result["density_mm_per_cm2"] = {**result["density_mm_per_cm2"], "all": open_ended}
    kept = replace(found, verdict="yes", result=result)
    monkeypatch.setattr(results, "compare", lambda *_, **__: kept)
    app = open_page("before_after")
    assert not app.exception
    assert "−60 % or more" in words(app)


def test_a_kept_refusal_is_told_and_counts_for_nothing(
    record: Path, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = compare(store, JOB, "bonnet")
    sides = {"before": {"refused": "too dark"}, "after": {"refused": None}}
    refused = {"comparable": "no", "reasons": ["It was too dark."], **sides}
    kept = replace(found, verdict="no", result=refused)
    monkeypatch.setattr(results, "compare", lambda *_, **__: kept)
    app = open_page("before_after")
    assert not app.exception
    assert "It was too dark" in words(app)
    monkeypatch.setattr("defectmap.report.typical.latest_comparisons", lambda *_, **__: {"bonnet": kept})
    (job,) = job_results(store)
    assert (job.panels, job.compared, job.change_percent) == (1, 0, None)


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, bytes]]:
    """What pages show as before and after, in their order, the sides of a slider among them."""
    found: list[tuple[str, bytes]] = []

    def image(data: bytes, caption: str = "", **_: Any) -> None:
        found.append((caption, data))

    def component(name: str) -> Callable[..., Any]:
        def put(*, data: dict[str, str], **_: Any) -> None:
            sides = [data[side].partition("base64,")[2] for side in ("before", "after")]
            found.extend((side, base64.b64decode(one)) for side, one in zip(SIDES, sides, strict=True))

        return put

    monkeypatch.setattr(DeltaGenerator, "image", lambda _, *given, **named: image(*given, **named))
    monkeypatch.setattr(st, "image", image)
    monkeypatch.setattr(slider, "component", component)
    return found


def test_before_is_before_however_it_is_looked_at(
    record: Path, store: Store, drawn: list[tuple[str, bytes]]
) -> None:
    (pair,) = spot_pairs(store, JOB, compare(store, JOB, "bonnet"))
    before, after = (
        load(store.originals.read(one.photograph.sha256, name="")) for one in (pair.before, pair.after)
    )
    crops = crop_pair(before, after, pair.laid, centre="hotspot", side_px=CROP_PX)
    true = {"Before": crops.before, "After": crops.after}
    page = open_page("before_after")
    for way in ("Blink", "Slider"):
        page.radio(key="pair_way").set_value(way).run()
    page.radio(key="pair_way").set_value("Blink").run()
    page.radio(key="pair_side").set_value("After").run()
    open_page("customer")
    shown = [(side, data) for side, data in drawn if side in SIDES]
    assert [side for side, _ in shown] == [*SIDES, "Before", *SIDES, "Before", "After", *SIDES]
    for side, data in shown:
        seen = np.asarray(Image.open(io.BytesIO(data)), np.float64)
        apart = {name: np.abs(seen - one).mean() for name, one in true.items()}
        assert min(apart, key=lambda name: apart[name]) == side


def test_the_light_of_films_is_under_the_slider_as_it_was_filmed(monkeypatch: pytest.MonkeyPatch) -> None:
    one, other = (
        cast(PhotoResult, SimpleNamespace(measurement_id=side, old=False, record={"marks": []}))
        for side in ("before", "after")
    )
    given: list[Any] = []
    monkeypatch.setattr(
        cached, "film_pair", lambda *ids: (f"light {ids[0]}".encode(), f"light {ids[1]}".encode())
    )
    monkeypatch.setattr(film_shown, "compare_slider", lambda *sides, words: given.extend(sides))
    monkeypatch.setattr(st, "caption", lambda _: None)
    pair = SpotPair(before=one, after=other, laid=cast(Any, None))
    film_shown.fused_slider(cast(Any, SimpleNamespace(store=None)), pair)
    assert given == [b"light before", b"light after"]
