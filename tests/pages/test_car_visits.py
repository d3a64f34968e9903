"""One invented car from intake over two visits two years apart, through the pages alone; every paper written.

The pages are drawn by Streamlit's own runner, on a clock that is put forward; at the end a real browser takes
the papers from them. What runs in the browser (plan, signature, number pad) is told what a finger did.
"""

from __future__ import annotations

import io
import itertools
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any, cast

import pypdfium2
import pytest
from PIL import Image, ImageDraw
from streamlit.testing.v1 import AppTest

from defectmap.pages import frame
from defectmap.pages.widgets import keypad, plan_touch, signature
from defectmap.pages.widgets.scale_choice import PIXELS
from defectmap.record.care_dates import care_of
from defectmap.record.damages import damages_of
from defectmap.record.jobs import all_jobs
from defectmap.record.overview import overview
from defectmap.record.signatures import pictures_allowed, signature_picture
from defectmap.record.store import Store, open_store
from tests.pages.browsing import PHONE, Visit, chromium, serving
from tests.pages.conftest import PX_PER_MM, Shots, measured, open_page, picked, words

pytestmark = pytest.mark.slow
CAR, WHO = "the blue one of May", "A. Person"
FIRST, SECOND = "2024-05-06", "2026-05-11"


class Bay:
    """The pages as somebody uses them, on a clock of our own."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.folder, self.day, self.numbers = folder, FIRST, itertools.count()
        self.ticks: Iterator[int] = itertools.count()
        self.store = open_store(folder, clock=self.clock)
        self.told: dict[str, Any] = {}
        monkeypatch.setattr(frame, "open_store", lambda: open_store(folder, clock=self.clock))
        for module in (plan_touch, keypad, signature):
            monkeypatch.setattr(module, "taken_up", lambda key, what: self.told.pop(what, None))
        monkeypatch.setattr(plan_touch, "chosen_panels", lambda *_, **__: ("bonnet", "roof"))

    def clock(self) -> str:
        tick = next(self.ticks)
        return f"{self.day}T{8 + tick // 3600:02d}:{tick // 60 % 60:02d}:{tick % 60:02d}.000000+00:00"

    def open(self, page: str, job: str, panel: str = "bonnet") -> AppTest:
        self.job = job
        app = AppTest.from_file(str(Path(frame.__file__).with_name("main.py")), default_timeout=120)
        app.query_params["job"], app.query_params["panel"] = job, panel
        app.run()
        app.switch_page(f"{page}.py").run()
        assert not app.exception, app.exception
        return app

    def press(self, app: AppTest, label: str) -> AppTest:
        next(b for b in app.button if b.label == label).click().run()
        assert not app.exception, app.exception
        assert not app.error, [one.value for one in app.error]
        return app

    def type(self, app: AppTest, label: str, value: Any) -> None:
        kinds = ("text_input", "number_input", "date_input", "selectbox", "radio")
        fields = [
            one for kind in kinds for one in cast("list[Any]", app.get(kind)) if one.label.startswith(label)
        ]
        fields[0].set_value(value)

    def start(self, job: str, *, again: str | None = None) -> None:
        app = open_page("today")
        app.text_input(key="today_reference").set_value(job)
        if again is not None:
            app.selectbox(key="today_again").set_value(again).run()
        self.press(app, "Start the job")

    def readings(self, job: str, panel: str, *values: float) -> None:
        self.told["readings"] = {"readings": {"middle": list(values)}, "number": str(next(self.numbers))}
        assert "Entered:" in words(self.open("next_step", job, panel))

    def photograph(self, job: str, panel: str, stage: str, file: Path) -> None:
        app = self.open("photographs", job, panel)
        app.selectbox(key="photographs_stage").set_value(stage).run()
        self.type(app, "Scale", PIXELS)
        app.run()
        app.number_input(key="photographs_ppm").set_value(PX_PER_MM).run()
        number = next(self.numbers)
        picture = file.read_bytes()[:-2] + bytes([number + 1, 0]) + b"\xff\xd9"  # no file comes twice
        app.file_uploader[0].set_value([(f"shot{number}.jpg", picture, "image/jpeg")]).run()
        assert not app.exception
        assert "Kept 1 photograph" in words(app)
        measured(app, self.folder, job)


@pytest.fixture
def bay(empty_record: Path, monkeypatch: pytest.MonkeyPatch) -> Bay:
    monkeypatch.setenv("TZ", "UTC")
    return Bay(empty_record, monkeypatch)


def drawn() -> bytes:
    """A signature as a browser gives it."""
    out = io.BytesIO()
    picture = Image.new("RGB", (900, 300), "white")
    ImageDraw.Draw(picture).line([(40, 200), (300, 90), (860, 210)], fill="black", width=6)
    picture.save(out, "PNG")
    return out.getvalue()


def take_in(bay: Bay, job: str) -> None:
    import base64

    app = bay.open("arrival", job)
    bay.type(app, "New: what the shop", CAR)
    bay.type(app, "Make and model", "invented hatchback")
    bay.type(app, "Colour", "blue")
    bay.type(app, "Paint", "clear coat")
    bay.press(app, "Keep the vehicle")
    bay.type(app, "Name", WHO)
    bay.type(app, "Telephone", "a@example.org")
    bay.press(app, "Keep")
    bay.told["place"] = {"panel": "bonnet", "x": 0.5, "y": 0.12}
    app = bay.open("arrival", job)
    assert "New damage: bonnet" in words(app)
    picked(app).set_value("chip").run()
    bay.type(app, "More about it", "front edge")
    bay.press(app, "Mark it")
    assert "front edge" in words(app)
    bay.type(app, "Marks at most", 3.0)
    bay.press(app, "Keep what is agreed")
    app.radio(key="sign_pictures").set_value("No").run()
    bay.told["signed"] = {"png": base64.b64encode(drawn()).decode()}
    app.run()
    assert not app.error
    assert "not allowed" in words(app)
    (damage,) = damages_of(bay.store, job)
    assert (damage.kind, damage.panel) == ("chip", "bonnet")
    assert damage.y == pytest.approx(0.12 * 100 / 98)
    kept = Image.open(io.BytesIO(signature_picture(bay.store, job, "intake") or b""))
    assert kept.convert("RGB").tobytes() == Image.open(io.BytesIO(drawn())).tobytes()
    assert pictures_allowed(bay.store, job) is False


def work_on(bay: Bay, job: str, shots: Shots) -> None:
    app = bay.open("next_step", job)
    app.toggle(key="next_everywhere").set_value(True).run()
    app.text_input(key="hours_who").set_value("Kim").run()
    app.number_input(key="next_minutes").set_value(30).run()
    bay.press(app, "Wash")
    bay.press(app, "Decontaminate")
    for panel, low in (("bonnet", 118.0), ("roof", 120.0)):
        bay.readings(job, panel, low, low + 1, low + 2)
        bay.photograph(job, panel, "decontaminated", shots.before)
    for panel in ("bonnet", "roof"):
        app = bay.open("next_step", job, panel)
        app.text_input(key="hours_who").set_value("Kim").run()
        bay.press(app, "Start: correct (machine polish)")
        assert "Drop the clock" in [b.label for b in app.button]
        for _ in range(1500):
            next(bay.ticks)  # 25 minutes
        bay.press(app, "Save correction")
        assert "Drop the clock" not in [b.label for b in app.button]
        bay.press(app, "Solvent wipe")
        bay.photograph(job, panel, "wiped", shots.after)
    bay.press(bay.open("next_step", job), "Protect")


def hand_over(bay: Bay, job: str, day: date) -> None:
    app = bay.open("papers", job)
    kinds = app.selectbox(key="care_protection")
    kinds.set_value(kinds.options[0])
    app.date_input(key="care_day").set_value(day)
    bay.press(app, "Plan the care")
    assert len(care_of(bay.store, reference=job)) >= 4
    picked(app).set_value("hand-over").run()
    bay.type(app, "Name", WHO)
    bay.press(app, "Signed on paper instead")
    last = next(at for at, (_, step) in enumerate(steps(bay.store, job)) if step.kind == "protect")
    app.selectbox(key="hours_step").set_value(last)
    app.number_input(key="hours_minutes").set_value(20)
    bay.press(app, "Book these minutes")


def steps(store: Store, job: str) -> list[Any]:
    return [(p.history.panel.name, s) for p in overview(store, job).panels for s in p.history.steps]


def text_of(file: Path) -> str:
    with pypdfium2.PdfDocument(file) as document:
        return " ".join(page.get_textpage().get_text_range() for page in document).replace("\r\n", " ")


def test_a_car_over_two_visits(bay: Bay, shots: Shots, tmp_path: Path) -> None:
    app = open_page("set_up")
    app.number_input(key="rates_hour").set_value(80.0)
    app.number_input(key="rates_tax_percent").set_value(19.0)
    bay.press(app, "Keep the rates")
    bay.start("V1")
    take_in(bay, "V1")
    work_on(bay, "V1", shots)
    hand_over(bay, "V1", date(2024, 5, 7))
    bay.press(open_page("today"), "Close")

    bay.day, bay.ticks = SECOND, itertools.count()
    assert "Care due" in [e.label.partition(":")[0] for e in open_page("today").expander]
    bay.start("V2", again=CAR)
    said = words(bay.open("arrival", "V2"))
    assert "2 visits" in said
    assert "invented hatchback" in said
    bay.readings("V2", "bonnet", 115, 116, 117)
    assert "Earlier jobs took" in words(bay.open("next_step", "V2"))
    bay.photograph("V2", "bonnet", "decontaminated", shots.before)
    app = bay.open("next_step", "V2")
    bay.press(app, "Save correction")
    bay.press(app, "Solvent wipe")
    bay.photograph("V2", "bonnet", "wiped", shots.after)
    bay.press(bay.open("next_step", "V2"), "Protect")
    hand_over(bay, "V2", date(2026, 5, 12))
    bay.store.close()
    assert [job.created_at[:10] for job in all_jobs(bay.store)] == [SECOND, FIRST]

    found = {job: papers_of(tmp_path, job) for job in ("V1", "V2")}
    check_first(found["V1"])
    check_second(found["V2"])


KINDS = ("Intake sheet", "Quote", "Invoice", "Hand-over sheet", "What advertising may say")


def papers_of(folder: Path, job: str) -> dict[str, str]:
    """Every paper as a browser is given it, with the report, in words."""
    found = {}
    with serving(folder) as server, chromium() as browser:
        visit = Visit(browser, server, size=PHONE, touch=True)
        visit.go(f"papers?job={job}")
        for kind in KINDS:
            visit.page.get_by_role("radio", name=kind).click()
            visit.settle()
            assert visit.page.get_by_alt_text(f"{kind}, page 1 of").first.is_visible()
            found[kind] = saved(visit, f"Download: {kind}", folder / f"{job} {kind}.pdf")
        visit.go(f"report?job={job}")
        found["Report"] = saved(visit, "Report as PDF", folder / f"{job} report.pdf")
        assert visit.outside == set()
    return found


def saved(visit: Visit, button: str, file: Path) -> str:
    with visit.page.expect_download() as waiting:
        visit.page.get_by_role("button", name=button).click()
    waiting.value.save_as(file)
    return text_of(file)


def check_first(papers: dict[str, str]) -> None:
    expected: dict[str, tuple[str, ...]] = {
        "Intake sheet": ("Intake V1", CAR, WHO, "chip, front edge", "at most 3", "118 µm", "does not want"),
        "Quote": ("Quote V1", "Total", "€"),
        "Invoice": ("Invoice V1", "wash", "0.50 h", "Net", "Tax 19 %", "Total"),
        "Hand-over sheet": ("Hand-over V1", "What was done", "chip", "Care", "2024-05"),
        "What advertising may say": ("bonnet",),
        "Report": ("bonnet", "roof"),
    }
    for paper, said in expected.items():
        for one in said:
            assert one.lower() in papers[paper].lower(), (paper, one, papers[paper])
    assert WHO not in papers["Report"] + papers["What advertising may say"]


def check_second(papers: dict[str, str]) -> None:
    assert "115 µm" in papers["Intake sheet"]
    assert CAR in papers["Quote"]
    assert "Hand-over V2" in papers["Hand-over sheet"]
    assert "bonnet" in papers["Report"]
