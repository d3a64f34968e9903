"""A small job of drawn photographs, measured once; each test works on its own copy of the record."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

import defectmap
from defectmap.pages import background_run
from defectmap.record import keeping, whole
from defectmap.record.entries import StepSpec, add_step, moment
from defectmap.record.intake import Place, add_photograph
from defectmap.record.jobs import create_job
from defectmap.record.measuring import measure_job
from defectmap.record.panels import PanelSpec
from defectmap.record.store import FOLDER_VARIABLE, Store, open_store
from tests import phantom
from tests.pages.browsing import chromium, serving

JOB = "T-1"
PX_PER_MM = 10.0
MAIN = Path(defectmap.__file__).parent / "pages" / "main.py"
# A machine that runs other things beside the tests needs longer than a page ever should.
PATIENCE_S = 60


@dataclass(frozen=True)
class Shots:
    """Files of one spot before and after."""

    before: Path
    after: Path


@pytest.fixture(scope="session")
def shots(tmp_path_factory: pytest.TempPathFactory) -> Shots:
    folder = tmp_path_factory.mktemp("shots")
    swirled = phantom.swirls(1, density_mm_per_cm2=60) + phantom.scratches(1, count=4)
    sides: dict[str, tuple[tuple[phantom.Groove, ...], dict[str, Any]]] = {
        "before": (swirled, {"seed": 1}),
        "after": (
            phantom.polished(swirled, seed=3, keep_share=0.2),
            {"seed": 2, "offset_mm": (2.0, -1.0), "lamp_mm": (-3.0, 2.0, 470.0)},
        ),
    }
    paths = {}
    for name, (grooves, settings) in sides.items():
        shot = phantom.Shot(size_px=(760, 980), px_per_mm=PX_PER_MM, **settings)
        seen = phantom.photograph(grooves, shot, panel=phantom.Panel(seed=1))
        assert seen.jpeg is not None
        paths[name] = folder / f"{name}.jpg"
        paths[name].write_bytes(seen.jpeg)
    return Shots(before=paths["before"], after=paths["after"])


@pytest.fixture(scope="session")
def measured_record(tmp_path_factory: pytest.TempPathFactory, shots: Shots) -> Path:
    """A record with one job: the bonnet photographed and measured before and after, the roof not at all."""
    folder = tmp_path_factory.mktemp("measured") / "record"
    store = open_store(folder)
    panels = [PanelSpec(name=name, area_m2=1.5, material="steel") for name in ("bonnet", "roof")]
    create_job(store, JOB, panels=panels, vehicle="drawn car", colour="black", paint="clear coat")
    for kind in ("wash", "decontaminate", "correct", "wipe"):
        add_step(store, JOB, "bonnet", StepSpec(kind=kind), at=moment("2026-01-05T10:00"))
    for stage, file in (("decontaminated", shots.before), ("wiped", shots.after)):
        add_photograph(store, JOB, file, Place(panel="bonnet", stage=stage, px_per_mm=PX_PER_MM))
    measure_job(store, JOB)
    store.close()
    return folder


@pytest.fixture
def record(measured_record: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of the measured record, which the pages of this test open."""
    folder = tmp_path / "record"
    shutil.copytree(measured_record, folder)
    _use(folder, tmp_path, monkeypatch)
    return folder


@pytest.fixture
def filled(measured_record: Path, tmp_path: Path) -> Path:
    """The measured record where the server will look for it; ask for it before the server."""
    return Path(shutil.copytree(measured_record, tmp_path / "record"))


@pytest.fixture
def server(tmp_path: Path) -> Iterator[str]:
    with serving(tmp_path) as address:
        yield address


@pytest.fixture
def browser() -> Iterator[Any]:
    with chromium() as opened:
        yield opened


@pytest.fixture
def empty_record(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A record without a job."""
    folder = tmp_path / "record"
    _use(folder, tmp_path, monkeypatch)
    return folder


def _use(folder: Path, home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(FOLDER_VARIABLE, str(folder))
    monkeypatch.setenv("XDG_DATA_HOME", str(home / "data"))  # set-up profiles of whoever runs the tests
    listen_to("localhost", monkeypatch)
    keeping._OPENED.clear()
    whole._WHOLE.clear()


def listen_to(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the pages believe that their server is bound to this address."""
    real = st.get_option
    monkeypatch.setattr(st, "get_option", lambda key: address if key == "server.address" else real(key))


@pytest.fixture
def store(record: Path) -> Store:
    return open_store(record)


def open_page(name: str) -> AppTest:
    """One page, drawn."""
    app = AppTest.from_file(str(MAIN), default_timeout=PATIENCE_S)
    app.run()
    assert not app.exception
    if name != "today":
        app.switch_page(f"{name}.py").run()
    assert not app.exception
    return app


def picked(app: AppTest) -> Any:
    """The first row of buttons of which one is picked."""
    return app.get("button_group")[0]


def downloads(app: AppTest) -> list[Any]:
    """The buttons that offer a file."""
    return list(app.get("download_button"))


def words(app: AppTest) -> str:
    """Everything a page says, errors included."""
    kinds = ("title", "header", "subheader", "markdown", "caption", "info", "success", "warning", "error")
    return "\n".join(str(cast("Any", element).value) for kind in kinds for element in app.get(kind))


def measured(app: AppTest, folder: Path, reference: str = JOB) -> AppTest:
    """Wait until all is measured, and draw the page again, as its browser does."""
    background_run.wait_for(background_run._RUNS[str(folder), reference])
    return app.run()
