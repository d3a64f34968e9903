"""Vehicles over their lives: earlier jobs count, and whose they are stays apart and can be forgotten."""

from __future__ import annotations

import io
import zipfile
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from icalendar import Calendar
from PIL import Image

from defectmap.errors import AlreadyInRecord, ChangedMeanwhile, JobError, NotInRecord
from defectmap.record.care_dates import add_care, calendar_file, care_of, plan_care, tick_care
from defectmap.record.damages import add_damage, damage_photograph, damages_of
from defectmap.record.entries import StepSpec, add_step, set_aside, spec_of
from defectmap.record.history import histories
from defectmap.record.jobs import create_job, job_named
from defectmap.record.life import life_of
from defectmap.record.notes import put_setting
from defectmap.record.overview import overview
from defectmap.record.panels import PanelSpec, panels_of
from defectmap.record.results import tables_of
from defectmap.record.shop_style import SHOP
from defectmap.record.shop_tables import LABEL, drop_product, keep_product, put_on
from defectmap.record.signatures import PNG, pictures_allowed, sign, signature_picture, signatures_of
from defectmap.record.store import Store
from defectmap.record.thickness_entries import add_readings
from defectmap.record.transfer import export_job, import_job
from defectmap.record.vehicles import (
    add_vehicle,
    change_vehicle,
    forget_keeper,
    jobs_of,
    keeper_of,
    put_keeper,
    vehicle_named,
)
from defectmap.record.worktimes import clocked, put_minutes, running_on, start_work, stop_work
from defectmap.trade.care import protection_of
from defectmap.trade.table_forms import Range
from defectmap.trade.tables import load_tables

TABLES = load_tables()
CAR = "the blue one"
BONNET = [PanelSpec(name="bonnet", area_m2=1.5, material="steel")]


def drawn() -> bytes:
    """A signature as the page draws it: black ink on nothing."""
    picture = Image.new("RGBA", (30, 10))
    picture.putpixel((0, 0), (0, 0, 0, 255))
    out = io.BytesIO()
    picture.save(out, "PNG")
    return out.getvalue()


def bomb() -> bytes:
    """A picture of a few kilobytes that wants gigabytes."""
    out = io.BytesIO()
    Image.new("1", (40_000, 40_000)).save(out, "PNG")
    return out.getvalue()


@pytest.fixture
def car(store: Store) -> str:
    add_vehicle(store, CAR, make="invented hatchback", colour="blue", paint="clear coat")
    return CAR


def two_visits(store: Store) -> None:
    create_job(store, "V1", panels=BONNET, of=CAR, customer="C 17")
    add_readings(store, "V1", "bonnet", "middle", (118, 119, 120))
    add_step(store, "V1", "bonnet", spec_of("correct", TABLES.rung("heavy"), sets=1))
    add_readings(store, "V1", "bonnet", "middle", (114, 115, 116))
    create_job(store, "V2", panels=[PanelSpec(name="bonnet", area_m2=1.5)], of=CAR)


def test_a_second_visit_knows_the_first(store: Store, car: str) -> None:
    two_visits(store)
    job = job_named(store, "V2")
    assert (job.paint, job.colour, job.vehicle) == ("clear coat", "blue", "invented hatchback")
    assert panels_of(store, "V2")[0].material == "steel"  # what was known of the panel
    (history,) = histories(store, "V2")
    assert [step.rung for step in history.earlier_steps] == ["heavy"]
    assert [(r.job, r.stage) for r in history.earlier_readings] == [
        *([("V1", "decontaminated")] * 3),
        *([("V1", "wiped")] * 3),
    ]
    assert histories(store, "V1")[0].earlier_steps == ()  # the second is no earlier job of the first
    assert [one.reference for one in jobs_of(store, car)] == ["V1", "V2"]


def test_thickness_and_removal_over_the_years(store: Store, car: str) -> None:
    two_visits(store)
    life = life_of(store, car, TABLES, today=date(2026, 3, 2))
    assert [(one.stage, one.lowest_um, one.readings) for one in life.readings] == [
        ("decontaminated", 118, 3),
        ("wiped", 114, 3),
    ]
    (bonnet,) = life.panels
    assert (bonnet.spent_um.low, bonnet.spent_um.high) == (2, 5)
    assert bonnet.left_um == pytest.approx(12 - 5)


def test_a_name_is_taken_once_and_changes_are_seen(store: Store, car: str) -> None:
    with pytest.raises(AlreadyInRecord, match="another name"):
        add_vehicle(store, car)
    with pytest.raises(JobError, match="paint"):
        add_vehicle(store, "other", paint="shiny")
    changed = change_vehicle(store, car, seen_version=1, name="the old blue one")
    assert changed.version == 2
    with pytest.raises(ChangedMeanwhile):
        change_vehicle(store, "the old blue one", seen_version=1, colour="grey")
    with pytest.raises(NotInRecord, match="the old blue one"):
        vehicle_named(store, car)


def test_whose_it_is_is_forgotten_with_all_that_hangs_on_it(store: Store, car: str) -> None:
    two_visits(store)
    put_keeper(store, car, name="A. Person", plate="X 1")
    put_keeper(store, car, contact="a@example.org")  # what is not given stays
    keeper = keeper_of(store, car)
    assert keeper is not None
    assert (keeper.name, keeper.contact, keeper.plate) == ("A. Person", "a@example.org", "X 1")
    sign(store, "V1", "intake", words="damage seen", signed_by="A. Person", picture=drawn())
    forget_keeper(store, car)
    assert keeper_of(store, car) is None
    assert signatures_of(store, "V1") == ()
    assert job_named(store, "V1").customer == ""
    assert len(histories(store, "V1")[0].readings) == 6  # what was measured stays


def test_an_export_says_nothing_about_whose_it_is(store: Store, car: str, tmp_path: Path) -> None:
    two_visits(store)
    put_keeper(store, car, name="A. Person")
    sign(store, "V1", "intake", words="seen", signed_by="A. Person")
    add_damage(store, "V1", "bonnet", "chip")
    add_care(store, "V1", "2026-09-01", "look")
    file = export_job(store, "V1", tmp_path / "v1.zip")
    with zipfile.ZipFile(file) as archive:
        content = b"".join(archive.read(name) for name in archive.namelist())
    assert b"A. Person" not in content
    assert b"C 17" not in content
    asked = export_job(store, "V1", tmp_path / "asked.zip", with_customer=True)
    with zipfile.ZipFile(asked) as archive:
        assert b"C 17" in archive.read("job.json")
    copy = import_job(store, file, as_reference="V1 copy")
    assert copy.vehicle_id == vehicle_named(store, car).id  # the copy is of the same vehicle
    assert [one.kind for one in damages_of(store, "V1 copy")] == ["chip"]
    assert [one.day for one in care_of(store, reference="V1 copy")] == ["2026-09-01"]


def test_damage_is_marked_with_its_photograph(store: Store, car: str, tmp_path: Path) -> None:
    two_visits(store)
    picture = tmp_path / "chip.jpg"
    Image.new("RGB", (40, 30), "grey").save(picture)
    chip = add_damage(store, "V1", "bonnet", "chip", at_plan=(0.5, 0.1), photograph=picture)
    stain = add_damage(store, "V1", "bonnet", "stain")
    assert (chip.stays, stain.stays) == ("", None)  # a chip stays by its kind; a stain is worked on
    kept = damage_photograph(store, chip)
    assert kept is not None
    assert kept.read_bytes() == picture.read_bytes()
    set_aside(store, "V1", "damage", stain.id, why="it was dirt")
    assert [one.id for one in damages_of(store, "V1")] == [chip.id]
    assert panels_of(store, "V1")[0].catches_nail is False
    add_damage(store, "V1", "bonnet", "deep scratch")  # the rules hear of it: it is not chased
    add_damage(store, "V1", "bonnet", "repaint")
    panel = panels_of(store, "V1")[0]
    assert (panel.name, panel.catches_nail, panel.repainted) == ("bonnet", True, "yes")
    with pytest.raises(JobError, match="kind of damage"):
        add_damage(store, "V1", "bonnet", "rust")
    with pytest.raises(JobError, match="from 0 to 1"):
        add_damage(store, "V1", "bonnet", "chip", at_plan=(50, 10))
    with pytest.raises(NotInRecord, match="no such damage"):
        set_aside(store, "V2", "damage", chip.id, why="other job")


def test_a_consent_may_be_refused_and_given_later(store: Store, car: str) -> None:
    two_visits(store)
    assert pictures_allowed(store, "V1") is None
    sign(store, "V1", "pictures", words="may be shown", signed_by="A", given=False)
    assert pictures_allowed(store, "V1") is False
    sign(store, "V1", "pictures", words="may be shown", signed_by="A", picture=drawn())
    assert pictures_allowed(store, "V1") is True
    kept = signature_picture(store, "V1", "pictures")
    assert kept is not None
    with Image.open(io.BytesIO(kept)) as opened:  # ink on white, as a paper needs it
        assert (opened.mode, opened.size) == ("RGB", (30, 10))
        assert {opened.getpixel((0, 0)), opened.getpixel((29, 9))} == {(0, 0, 0), (255, 255, 255)}
    assert [one.on_paper for one in signatures_of(store, "V1")] == [True, False]
    for hostile in (b"<svg>", PNG + b"no picture behind it", bomb()):
        with pytest.raises(JobError, match="signature is n"):
            sign(store, "V1", "intake", words="", signed_by="A", picture=hostile)


def test_a_product_keeps_the_times_of_its_label(store: Store, car: str) -> None:
    two_visits(store)
    usual = {kind.key: kind for kind in tables_of(store).protection}
    keep_product(
        store,
        tables_of(store),
        "Coat 1",
        kind="coating",
        label={"keep_dry_hours": 48.0, "no_wash_days": 10.0, "level_minutes": Range(low=2, high=6)},
    )
    kept = protection_of("Coat 1", tables_of(store))
    assert (kept.keep_dry_hours, kept.no_wash_days, kept.level_minutes.high) == (48, 10, 6)
    assert kept.life_months == usual["coating"].life_months  # not on its label: as usual for its kind
    assert kept.source == LABEL
    assert usual["coating"] in tables_of(store).protection
    add_step(store, "V1", "bonnet", StepSpec(kind="protect", product=" coat 1 "))
    on = put_on([step for one in histories(store, "V1") for step in one.steps], tables_of(store))
    assert on == kept
    first, *_ = plan_care(store, "V1", tables_of(store), protection="Coat 1", done_on=date(2026, 3, 2))
    assert first.day == "2026-03-12"
    with pytest.raises(JobError, match="look at the label again"):
        keep_product(store, tables_of(store), "x", kind="wax", label={"keep_dry_hours": -1.0})
    drop_product(store, "Coat 1")
    assert tables_of(store).protection == tuple(usual.values())
    with pytest.raises(JobError, match="is kept"):
        drop_product(store, "Coat 1")


def test_the_shops_rates_and_currency_are_one_setting(store: Store) -> None:
    put_setting(store, SHOP, {"rate_hour": 60.0, "rate_tax_percent": 19.0, "currency": "USD"})
    rates = tables_of(store).rates
    assert (rates.hour, rates.tax_percent, rates.currency) == (Decimal("60.0"), Decimal("19.0"), "USD")


def test_care_days_are_planned_kept_listed_and_ticked(store: Store, car: str) -> None:
    two_visits(store)
    add_care(store, "V1", "2026-05-01", "other", words="bring the second key")
    plan_care(store, "V1", TABLES, protection="sealant", done_on=date(2026, 3, 2))
    planned = care_of(store, reference="V1")
    days = [one.day for one in planned]
    assert days == sorted(days)
    assert ("2026-03-05", "wash again") in [(one.day, one.kind) for one in planned]
    assert {one.vehicle for one in planned} == {CAR}
    tick_care(store, planned[0].id)
    plan_care(store, "V1", TABLES, protection="wax", done_on=date(2026, 3, 2))  # in place of the open ones
    again = care_of(store, reference="V1")
    assert sum(one.words == "sealant" for one in again) == 1
    assert any(one.words == "bring the second key" for one in again)
    assert care_of(store, since=date(2026, 5, 1), until=date(2026, 5, 1))[0].kind == "other"
    assert care_of(store, until=date(2020, 1, 1)) == ()
    with pytest.raises(JobError, match="kind of care"):
        add_care(store, "V1", "2026-05-01", "party")


def test_the_calendar_is_one_that_others_read(store: Store, car: str) -> None:
    """RFC 5545: 3.6.1 an all-day event ends on the day after; 3.8.4.7 every event has its own uid."""
    two_visits(store)
    care = [add_care(store, "V1", day, "look") for day in ("2026-05-31", "2026-12-31")]
    content = calendar_file(care, ["look, at äöü"] * 2, made_at="2026-03-02T08:00:00+00:00")
    assert content == calendar_file(care, ["look, at äöü"] * 2, made_at="2026-03-02T08:00:00+00:00")
    events = Calendar.from_ical(content).walk("VEVENT")
    assert [(e.decoded("dtstart"), e.decoded("dtend")) for e in events] == [
        (date(2026, 5, 31), date(2026, 6, 1)),
        (date(2026, 12, 31), date(2027, 1, 1)),
    ]
    assert len({str(event["uid"]) for event in events}) == 2
    assert {str(event["summary"]) for event in events} == {"look, at äöü"}


def test_a_clock_says_who_worked_and_how_long(store: Store, car: str) -> None:
    two_visits(store)
    start_work(store, "V1", "bonnet", "correct", by="Kim")
    assert [one.by for one in running_on(store, "V1")] == ["Kim"]
    with pytest.raises(AlreadyInRecord, match="runs already"):
        start_work(store, "V1", "bonnet", "correct")
    minutes, by = stop_work(store, "V1", "bonnet", "correct")
    assert by == "Kim"
    assert minutes is not None
    assert minutes >= 0
    assert running_on(store, "V1") == ()
    with pytest.raises(NotInRecord, match="type the minutes"):
        stop_work(store, "V1", "bonnet", "correct")


def test_a_step_stops_its_own_clock_and_what_was_typed_comes_first(store: Store, car: str) -> None:
    two_visits(store)
    wash = spec_of("wash", by="Lee", minutes=12)
    assert clocked(store, "V1", "bonnet", wash) == wash  # no clock runs
    start_work(store, "V1", "bonnet", "wash", by="Kim")
    assert clocked(store, "V1", "bonnet", spec_of("wipe")) == spec_of("wipe")  # another's clock runs on
    assert clocked(store, "V1", "bonnet", wash) == wash
    assert running_on(store, "V1") == ()
    start_work(store, "V1", "bonnet", "wash", by="Kim")
    stopped = clocked(store, "V1", "bonnet", spec_of("wash"))
    assert stopped.by == "Kim"
    assert stopped.minutes is not None


def test_minutes_are_booked_afterwards(store: Store, car: str) -> None:
    two_visits(store)
    step = overview(store, "V1").panels[0].history.steps[0]
    put_minutes(store, "V1", step.id, 25.0, by="Kim")
    put_minutes(store, "V1", step.id, 30.0)
    kept = overview(store, "V1").panels[0].history.steps[0]
    assert (kept.minutes, kept.by) == (30.0, "Kim")
    with pytest.raises(JobError, match="cannot be right"):
        put_minutes(store, "V1", step.id, 0.0)
    with pytest.raises(NotInRecord):
        put_minutes(store, "V2", step.id, 5.0)
