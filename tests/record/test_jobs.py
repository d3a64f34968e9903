"""Jobs, panels, entries, notes: what goes in comes out, and two people do not overwrite each other."""

from __future__ import annotations

import json

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import select

from defectmap import errors
from defectmap.record import logbook
from defectmap.record.entries import StepSpec, add_step, enter_stage, moment, set_aside
from defectmap.record.history import histories
from defectmap.record.jobs import all_jobs, change_job, create_job, job_named
from defectmap.record.notes import (
    add_note,
    checklists_of,
    notes_of,
    put_setting,
    setting,
    start_checklist,
    tick,
)
from defectmap.record.panels import PanelSpec, add_panel, change_panel, panels_of
from defectmap.record.store import Store
from defectmap.record.thickness_entries import add_readings, to_um
from defectmap.trade.facts import Target
from defectmap.words.stage_words import told_gates


def test_a_job_comes_back_as_it_was_entered(store: Store) -> None:
    made = create_job(
        store,
        "2026-014",
        panels=[PanelSpec(name="Motorhaube", area_m2=1.4, material="aluminium", clear_coat_um=41.5)],
        customer="K 7",
        kind="car",
        vehicle="estate, dark blue",
        paint="clear coat",
        target=Target(density_mm_per_cm2=2.5),
    )
    assert job_named(store, "2026-014") == made
    assert all_jobs(store) == (made,)
    (panel,) = panels_of(store, "2026-014")
    assert (panel.name, panel.area_m2, panel.material, panel.clear_coat_um) == (
        "Motorhaube",
        1.4,
        "aluminium",
        41.5,
    )


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(words=st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00"), max_size=300))
def test_any_note_survives_the_record(store: Store, words: str) -> None:
    if not any(j.reference == "N" for j in all_jobs(store)):
        create_job(store, "N")
    note = add_note(store, "N", words)
    assert note in notes_of(store, "N")
    assert note.words == words


def test_names_are_taken_only_once(store: Store, job: str) -> None:
    with pytest.raises(errors.AlreadyInRecord, match="J1"):
        create_job(store, job)
    with pytest.raises(errors.AlreadyInRecord, match="bonnet"):
        add_panel(store, job, PanelSpec(name="bonnet", area_m2=1))
    with pytest.raises(errors.AlreadyInRecord, match="twice"):
        create_job(store, "J2", panels=[PanelSpec(name="a", area_m2=1)] * 2)
    assert [j.reference for j in all_jobs(store)] == ["J1"]  # the failed one left nothing behind
    assert [p.name for p in panels_of(store, job)] == ["bonnet", "roof"]


@pytest.mark.parametrize(
    ("spec", "words"),
    [
        (PanelSpec(name="", area_m2=1), "1 to 80"),
        (PanelSpec(name="a\x1b[2J", area_m2=1), "printable"),
        (PanelSpec(name="a", area_m2=0), "area"),
        (PanelSpec(name="a", area_m2=1, material="wood"), "material"),
        (PanelSpec(name="a", area_m2=1, clear_coat_um=-4), "clear coat"),
    ],
)
def test_impossible_panels_are_refused(store: Store, job: str, spec: PanelSpec, words: str) -> None:
    with pytest.raises(errors.JobError, match=words):
        add_panel(store, job, spec)


def test_unknown_names_are_answered_with_the_known_ones(store: Store, job: str) -> None:
    with pytest.raises(errors.NotInRecord, match="J1"):
        panels_of(store, "J9")
    with pytest.raises(errors.NotInRecord, match="bonnet, roof"):
        enter_stage(store, job, "wing", "washed")


def test_the_second_of_two_changes_is_told(store: Store, job: str) -> None:
    seen = job_named(store, job)
    changed = change_job(store, job, seen_version=seen.version, colour="red", target=Target(haze=0.05))
    assert (changed.colour, changed.target.haze) == ("red", 0.05)
    with pytest.raises(errors.ChangedMeanwhile, match="look at it again"):
        change_job(store, job, seen_version=seen.version, colour="green")
    assert job_named(store, job).colour == "red"
    panel = panels_of(store, job)[0]
    change_panel(store, job, "bonnet", seen_version=panel.version, repainted="yes")
    with pytest.raises(errors.ChangedMeanwhile, match="bonnet"):
        change_panel(store, job, "bonnet", seen_version=panel.version, repainted="no")


def test_readings_are_kept_in_um_with_what_was_typed(store: Store, job: str) -> None:
    add_readings(store, job, "bonnet", "middle", (4.5, 4.4, 4.6), unit="mil")
    history = histories(store, job)[0]
    assert [r.entered for r in history.readings] == ["4.5 mil", "4.4 mil", "4.6 mil"]
    # 1 mil is a thousandth of an inch of 25.4 mm exactly (ISO 80000-3, international inch)
    assert [r.value_um for r in history.readings] == pytest.approx([114.3, 111.76, 116.84])


@pytest.mark.parametrize(
    ("value", "unit"), [(0, "um"), (-3, "um"), (float("nan"), "um"), (6000, "um"), (120, "km")]
)
def test_impossible_readings_are_refused_all_together(
    store: Store, job: str, value: float, unit: str
) -> None:
    with pytest.raises(errors.BadReading):
        add_readings(store, job, "bonnet", "middle", (110.0, value), unit=unit)  # type: ignore[arg-type]
    assert histories(store, job)[0].readings == ()
    with pytest.raises(errors.BadReading, match="um or mil"):
        to_um(1.0, "inch")  # type: ignore[arg-type]


def test_what_is_set_aside_leaves_the_rules_but_not_the_record(store: Store, job: str) -> None:
    step = add_step(store, job, "bonnet", StepSpec(kind="wash"))
    set_aside(store, job, "step", step.id, why="wrong panel")
    assert histories(store, job)[0].steps == ()
    other = create_job(store, "J2").reference
    with pytest.raises(errors.NotInRecord, match="no such step"):
        set_aside(store, other, "step", step.id, why="not mine")
    with pytest.raises(errors.JobError, match="why"):
        set_aside(store, job, "step", step.id, why=" ")


def test_going_on_past_a_gate_is_possible_and_recorded(store: Store, job: str) -> None:
    entry = enter_stage(store, job, "bonnet", "Wiped")
    assert entry.stage == "wiped"
    assert "no wipe" in {gate.code for gate in entry.warnings}
    assert histories(store, job)[0].stages == (entry,)


def test_a_gate_that_an_earlier_version_kept_as_a_sentence_is_still_said(store: Store, job: str) -> None:
    entry = enter_stage(store, job, "bonnet", "wiped")
    said = "No wash is recorded: dirt may be counted as marks."
    with store.writing() as session:
        row = session.scalars(select(logbook.StageEntry)).one()
        assert '"code":"no wipe"' in row.warnings
        row.warnings = json.dumps([said])
    (old,) = histories(store, job)[0].stages
    assert told_gates(old.warnings) == (said,)
    assert told_gates(entry.warnings) != (said,)


def test_checklists_keep_their_ticks_when_started_again(store: Store, job: str) -> None:
    start_checklist(store, job, "hand-over", ["keys", "report"])
    first = checklists_of(store, job)[0]
    tick(store, job, first.id, by="A")
    start_checklist(store, job, "hand-over", ["keys", "report", "mats"])
    lines = checklists_of(store, job)
    assert [(line.words, line.done_by) for line in lines] == [("keys", "A"), ("report", None), ("mats", None)]
    assert tick(store, job, first.id, done=False).done_at is None


def test_settings_of_the_shop(store: Store) -> None:
    assert setting(store, "profile", {}) == {}
    put_setting(store, "profile", {"cv": 0.02})
    put_setting(store, "profile", {"cv": 0.03})
    assert setting(store, "profile") == {"cv": 0.03}


@pytest.mark.parametrize("words", ["a\0b", "a\udce4b"])
def test_words_that_no_database_holds_are_refused_in_words(store: Store, job: str, words: str) -> None:
    with pytest.raises(errors.JobError, match="cannot be stored"):
        add_note(store, job, words)
    with pytest.raises(errors.JobError, match="cannot be stored"):
        create_job(store, "J2", vehicle=words)
    assert notes_of(store, job) == ()
    with pytest.raises(errors.JobError, match="printable"):
        add_readings(store, job, "bonnet", words, (110.0,))


def test_steps_typed_with_one_time_stay_in_the_order_of_entry(store: Store, job: str) -> None:
    kinds = ("wash", "decontaminate", "correct", "wipe", "protect")
    for kind in kinds:
        add_step(store, job, "bonnet", StepSpec(kind=kind), at=moment("2026-01-05T10:00"))
    assert tuple(s.kind for s in histories(store, job)[0].steps) == kinds
