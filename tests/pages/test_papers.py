"""Papers, hours, care and consent on their pages."""

from __future__ import annotations

import base64
from datetime import date
from pathlib import Path

import pytest

from defectmap.pages.widgets import plan_touch, signature
from defectmap.pages.widgets.signature import signed_from
from defectmap.record.care_dates import care_of, plan_care
from defectmap.record.damages import damages_of
from defectmap.record.overview import overview
from defectmap.record.results import tables_of
from defectmap.record.signatures import sign, signatures_of
from defectmap.record.store import Store
from defectmap.record.vehicles import add_vehicle, attach, keeper_of, put_keeper
from defectmap.record.worktimes import running_on
from tests.pages.conftest import JOB, downloads, open_page, picked, words

# one black point
DRAWN = base64.b64decode(
    "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR4nGNgYGD4DwABBAEAX+XDSwAAAABJRU5ErkJggg=="
)


def hours(store: Store, kind: str) -> list[tuple[float | None, str]]:
    steps = [s for panel in overview(store, JOB).panels for s in panel.history.steps]
    return [(step.minutes, step.by) for step in steps if step.kind == kind]


@pytest.mark.parametrize("kind", ["intake", "quote", "invoice", "hand-over", "claims"])
def test_each_paper_is_seen_and_offered(record: Path, kind: str) -> None:
    app = open_page("papers")
    picked(app).set_value(kind).run()
    assert not app.exception
    assert not app.error
    assert app.get("image")
    (button,) = downloads(app)
    assert button.label.startswith("Download: ")


def test_an_invoice_without_hours_says_so(record: Path) -> None:
    app = open_page("papers")
    picked(app).set_value("invoice").run()
    assert "No hours are entered" in words(app)
    app = open_page("papers")
    app.selectbox(key="hours_step").set_value(0)
    app.number_input(key="hours_minutes").set_value(20)
    next(b for b in app.button if b.label == "Book these minutes").click().run()
    picked(app).set_value("invoice").run()
    assert "Not charged, as no time was entered" in words(app)


def test_minutes_are_typed_once_for_all_panels_or_afterwards(record: Path, store: Store) -> None:
    app = open_page("next_step")
    app.toggle(key="next_everywhere").set_value(True).run()
    app.text_input(key="hours_who").set_value("Kim").run()
    app.number_input(key="next_minutes").set_value(30).run()
    app.button(key="next_do_protect").click().run()
    assert hours(store, "protect") == [(15.0, "Kim"), (15.0, "Kim")]
    app.button(key="next_do_fill").click().run()  # they were for one press
    assert hours(store, "fill") == [(None, "Kim"), (None, "Kim")]
    app = open_page("papers")
    app.selectbox(key="hours_step").set_value(0)
    app.number_input(key="hours_minutes").set_value(20)
    next(b for b in app.button if b.label == "Book these minutes").click().run()
    assert hours(store, "wash")[0][0] == 20.0
    assert any(e.label == "Hours: 0.8 h booked" for e in app.expander)


def test_a_clock_is_started_stopped_by_the_step_or_dropped(record: Path, store: Store) -> None:
    app = open_page("next_step")
    app.button(key="hours_start_wipe").click().run()
    assert app.button(key="hours_start_wipe").disabled
    (one,) = running_on(store, JOB)
    app.button(key="next_do_wipe").click().run()
    assert running_on(store, JOB) == ()
    assert hours(store, "wipe")[-1][0] is not None
    app.button(key="hours_start_wash").click().run()
    (one,) = running_on(store, JOB)
    app.button(key=f"hours_drop_{one.id}").click().run()
    assert running_on(store, JOB) == ()


def test_who_refused_pictures_is_not_posted(record: Path, store: Store) -> None:
    offered = [b.label for b in downloads(open_page("report"))]
    assert "Picture for posting" in offered
    sign(store, JOB, "pictures", words="", signed_by="A. Person", given=False)
    app = open_page("report")
    assert "Picture for posting" not in [b.label for b in downloads(app)]
    assert "does not want pictures" in words(app)


def test_the_customer_sees_the_days_that_are_planned(record: Path, store: Store) -> None:
    assert "**Care**" not in words(open_page("customer"))
    (first, *_) = plan_care(store, JOB, tables_of(store), protection="sealant", done_on=date(2026, 1, 6))
    assert first.day in words(open_page("customer")).replace("\\", "")
    app = open_page("papers")
    app.checkbox(key=f"care_{first.id}").set_value(True).run()
    assert care_of(store, reference=JOB)[0].done_at is not None
    assert first.day not in words(open_page("customer")).replace("\\", "")


def test_damage_is_marked_where_the_plan_was_touched_and_taken_out(
    record: Path, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    given = [{"panel": "bonnet", "x": 0.4, "y": 0.2}]
    monkeypatch.setattr(plan_touch, "taken_up", lambda *_: given.pop() if given else None)
    app = open_page("arrival")
    assert next(b for b in app.button if b.label == "Mark it").disabled  # nothing is named yet
    picked(app).set_value("dent").run()
    app.button(key="arrival_mark").click().run()
    (dent,) = damages_of(store, JOB)
    assert (dent.panel, dent.kind, dent.x) == ("bonnet", "dent", 0.4)
    assert "Touch the place on the plan." in words(app)
    app.text_input(key=f"why_{dent.id}").set_value("a shadow").run()
    app.button(key=f"aside_{dent.id}").click().run()
    assert damages_of(store, JOB) == ()


def test_the_signature_is_kept_with_what_was_signed(
    record: Path, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    left: list[object] = []
    monkeypatch.setattr(signature, "taken_up", lambda *_: left.pop() if left else None)
    app = open_page("arrival")
    left.append({"png": base64.b64encode(DRAWN).decode()})
    app.run()
    assert "Say who signed" in app.error[0].value
    app.text_input(key="sign_who_intake").set_value("A. Person").run()
    app.radio(key="sign_pictures").set_value("Yes").run()
    assert signatures_of(store, JOB) == ()  # nothing is signed by a name alone
    left.append({"png": base64.b64encode(DRAWN).decode()})
    app.run()
    assert [(one.what, one.given, one.on_paper) for one in signatures_of(store, JOB)] == [
        ("intake", True, False),
        ("pictures", True, False),
    ]


@pytest.mark.parametrize("given", [None, {}, {"png": 1}, {"png": "?"}, {"png": "aGVsbG8="}])
def test_what_is_no_signature_is_left_alone(given: object) -> None:
    assert signed_from(given) is None


def test_whose_a_vehicle_is_is_deleted_only_when_it_is_meant(record: Path, store: Store) -> None:
    add_vehicle(store, "blue one")
    put_keeper(store, "blue one", name="A. Person")
    attach(store, JOB, "blue one")
    app = open_page("arrival")
    assert app.button(key="arrival_forget").disabled
    app.checkbox(key="arrival_sure").set_value(True).run()
    app.button(key="arrival_forget").click().run()
    assert keeper_of(store, "blue one") is None


def test_rates_are_kept_and_nothing_else_of_the_tables_changes(record: Path, store: Store) -> None:
    before = tables_of(store)
    app = open_page("set_up")
    app.number_input(key="rates_hour").set_value(82.5)
    next(b for b in app.button if b.label == "Keep the rates").click().run()
    assert not app.error
    after = tables_of(store)
    assert str(after.rates.hour) == "82.5"
    assert after.ladder == before.ladder
    assert (record / "tables.toml").read_text("utf-8").count("#") > 5  # remarks stay
