"""A panel worked on step by step in the record: the advice follows what was measured."""

from __future__ import annotations

from itertools import count
from pathlib import Path

import pytest

from defectmap.record.advise import PanelAdvice, Repeatability, advise_panels, limits_of
from defectmap.record.entries import StepSpec, add_step, moment
from defectmap.record.intake import Place, add_photograph
from defectmap.record.jobs import change_job, create_job
from defectmap.record.measuring import PhotoRequest, measure_job
from defectmap.record.overview import overview
from defectmap.record.panels import PanelSpec, change_panel
from defectmap.record.store import Store
from defectmap.record.thickness_entries import add_readings
from defectmap.trade.facts import Target
from defectmap.trade.tables import load_tables
from defectmap.words.trade_words import told, told_all
from tests.record import fakes

TABLES = load_tables()
AIM = Target(density_mm_per_cm2=3, haze=0.1)
KNOWN = Repeatability(density=0.02, haze=0.02)


class Bench:
    """One panel in a record, with a lamp that shows what it is told to show."""

    def __init__(self, store: Store, folder: Path) -> None:
        self.store, self.folder = store, folder
        self.numbers = count()
        create_job(store, "J1", panels=fakes.PANELS[:1], paint="clear coat", target=AIM)

    def step(self, kind: str, *, rung: str | None = None, spot: str | None = None) -> None:
        spec = StepSpec(kind=kind)
        if rung is not None:
            removal = TABLES.rung(rung).removal_um
            spec = StepSpec(kind=kind, rung=rung, removal_low_um=removal.low, removal_high_um=removal.high)
        add_step(self.store, "J1", "bonnet", spec, spot=spot)

    def shoot(
        self, stage: str, density: float, *, spot: str = "1", haze: float = 0.02, scale: bool = True
    ) -> None:
        photo = fakes.photo(self.folder, next(self.numbers))
        place = Place(panel="bonnet", stage=stage, spot=spot, px_per_mm=20.0 if scale else None)
        add_photograph(self.store, "J1", photo, place)

        def measure(request: PhotoRequest) -> dict[str, object]:
            figures = {"swirl": density, "scratch": 0.0, "all": density}
            return {**fakes.measure(request), "density_mm_per_cm2": figures, "haze": haze}

        measure_job(self.store, "J1", measure=measure)

    def read(self, *values: float) -> None:
        add_readings(self.store, "J1", "bonnet", "middle", values)

    def next(self, repeatability: Repeatability = KNOWN) -> PanelAdvice:
        (found,) = advise_panels(overview(self.store, "J1"), TABLES, repeatability)
        return found

    def said(self, repeatability: Repeatability = KNOWN) -> tuple[str, str | None]:
        advice = self.next(repeatability).advice
        return advice.action, advice.rung.key if advice.rung else None


@pytest.fixture
def bench(store: Store, tmp_path: Path) -> Bench:
    return Bench(store, tmp_path)


def test_a_whole_panel_from_wash_to_good_enough(bench: Bench) -> None:
    assert bench.said() == ("inspect", None)
    bench.step("wash")
    bench.step("decontaminate")
    bench.shoot("decontaminated", 15)
    assert bench.said() == ("read film thickness", None)
    bench.read(118, 119, 120)
    assert bench.said() == ("try on a spot", "finish")
    bench.step("correct", rung="finish", spot="2")
    assert bench.said() == ("wipe and photograph", None)
    bench.shoot("test spot", 1, spot="2")  # not wiped: what it shows does not count
    assert bench.said() == ("wipe and photograph", None)
    bench.step("wipe", spot="2")
    bench.shoot("test spot", 9, spot="2")
    assert bench.said() == ("try on a spot", "medium")
    bench.step("correct", rung="medium", spot="2")
    bench.step("wipe", spot="2")
    bench.shoot("test spot", 2, spot="2")
    assert bench.said() == ("correct the panel", "medium")
    found = bench.next()
    assert found.budget.spent_um.high == 2 + 3  # both on one spot
    bench.step("correct", rung="medium")
    assert bench.said() == ("wipe and photograph", None)
    bench.step("wipe")
    bench.shoot("wiped", 1.5)
    assert bench.said() == ("stop: good enough", None)
    assert "12" not in told(bench.next().advice.measured[0])
    assert "1.5" in told(bench.next().advice.measured[0])


def test_a_heavy_cut_is_finished_down(bench: Bench) -> None:
    bench.shoot("decontaminated", 15)
    bench.read(118, 119, 120)
    bench.step("correct", rung="heavy")
    bench.step("wipe")
    bench.shoot("wiped", 1.5, haze=0.3)
    assert bench.said() == ("finish down", "finish")
    bench.step("correct", rung="finish")
    bench.step("wipe")
    bench.shoot("wiped", 1.5, spot="2")
    assert bench.said() == ("stop: good enough", None)


def test_photographs_from_before_the_last_correction_do_not_count_as_after(bench: Bench) -> None:
    bench.shoot("decontaminated", 15)
    bench.read(118, 119, 120)
    bench.step("wipe")
    bench.shoot("wiped", 1.5)
    bench.step("correct", rung="finish")
    assert bench.said() == ("wipe and photograph", None)


def test_steps_entered_in_the_evening_with_their_time_count_as_done_then(bench: Bench) -> None:
    bench.shoot("decontaminated", 15)
    bench.read(118, 119, 120)
    bench.shoot("wiped", 1.5)
    for minute, (kind, rung) in enumerate([("correct", "finish"), ("wipe", None)]):
        spec = StepSpec(kind=kind, rung=rung)
        add_step(bench.store, "J1", "bonnet", spec, at=moment(f"2026-03-02T07:0{minute}+00:00"))
    assert bench.said() == ("stop: good enough", None)


def test_a_test_spot_that_was_polished_over_is_no_longer_asked_for(bench: Bench) -> None:
    bench.shoot("decontaminated", 15)
    bench.read(118, 119, 120)
    bench.step("correct", rung="finish", spot="2")
    assert bench.said() == ("wipe and photograph", None)
    bench.step("correct", rung="medium")  # over the whole panel, that spot too
    bench.step("wipe")
    bench.shoot("wiped", 9)
    assert bench.said() == ("try on a spot", "finish")
    bench.shoot("test spot", 1, spot="2")  # shows the medium step, not the finishing one
    assert bench.said() == ("try on a spot", "finish")


def test_photographs_that_are_older_than_the_correction_are_said_to_be(bench: Bench) -> None:
    bench.shoot("decontaminated", 15)
    bench.read(118, 119, 120)
    bench.shoot("wiped", 1.5)
    bench.step("correct", rung="finish")
    bench.step("wipe")
    assert [remark.code for remark in bench.next().advice.why] == ["corrected, not wiped", "proof too old"]


def test_without_a_known_repeatability_one_photograph_decides_nothing(bench: Bench) -> None:
    bench.shoot("decontaminated", 15)
    assert bench.said(Repeatability()) == ("photograph more spots", None)
    bench.shoot("decontaminated", 15.5, spot="2")
    bench.shoot("decontaminated", 14.5, spot="3")
    assert bench.said(Repeatability()) == ("read film thickness", None)


def test_without_a_scale_nothing_is_held_against_the_target(bench: Bench) -> None:
    bench.shoot("decontaminated", 15, scale=False)
    assert bench.said() == ("give the scale", None)


def test_thin_film_stops_before_the_first_pass(bench: Bench) -> None:
    bench.shoot("decontaminated", 15)
    bench.read(70, 71, 72)
    advice = bench.next().advice
    assert (advice.action, len(advice.alternatives)) == ("stop: clear coat", 3)
    assert any("too thin" in caution for caution in told_all(advice.cautions))


def test_a_nail_and_single_stage_paint_are_cautioned_about(store: Store, tmp_path: Path) -> None:
    spec = PanelSpec(name="bonnet", area_m2=1.5, catches_nail=True)
    create_job(store, "J1", panels=[spec], paint="single stage")
    (found,) = advise_panels(overview(store, "J1"), TABLES)
    said = " ".join(told_all(found.advice.cautions))
    assert "fingernail" in said
    assert "the colour itself comes off" in said


def test_worse_on_a_test_spot_stops_until_it_is_tried_again(bench: Bench) -> None:
    bench.shoot("decontaminated", 15, spot="2")
    bench.read(118, 119, 120)
    for density, expected in ((32.0, ("stop: worse than before", None)), (9.0, ("try on a spot", "medium"))):
        bench.step("correct", rung="finish", spot="2")  # the second time with a clean pad
        bench.step("wipe", spot="2")
        bench.shoot("test spot", density, spot="2")
        assert bench.said() == expected


def test_worse_than_after_the_step_before_stops_too(bench: Bench) -> None:
    bench.shoot("decontaminated", 15)
    bench.read(118, 119, 120)
    for rung, density in (("medium", 5.0), ("finish", 9.0)):
        bench.step("correct", rung=rung)
        bench.step("wipe")
        bench.shoot("wiped", density)
    assert bench.said() == ("stop: worse than before", None)  # 9 is better than 15, and worse than 5


@pytest.mark.parametrize("rung", ["finish", "medium"])
def test_a_spot_worse_than_the_corrected_panel_left_it_stops(bench: Bench, rung: str) -> None:
    """Less than at the inspection is no progress where the whole panel's correction had left still less."""
    bench.shoot("decontaminated", 15)
    bench.read(118, 119, 120)
    bench.step("correct", rung="finish")
    bench.step("wipe")
    bench.shoot("wiped", 8)
    assert bench.said() == ("try on a spot", "medium")
    bench.step("correct", rung=rung, spot="1")
    bench.step("wipe", spot="1")
    bench.shoot("test spot", 12)
    assert bench.said() == ("stop: worse than before", None)


def test_after_protection_nothing_is_polished(bench: Bench) -> None:
    bench.shoot("decontaminated", 15)
    bench.read(118, 119, 120)
    bench.step("correct", rung="heavy")
    bench.step("wipe")
    bench.shoot("wiped", 1.5, haze=0.3)
    assert bench.said() == ("finish down", "finish")
    bench.step("protect")
    assert bench.said() == ("stop: protected", None)


def test_a_low_reading_stops_and_a_second_look_goes_on(bench: Bench) -> None:
    bench.shoot("decontaminated", 15)
    bench.read(118, 119, 120, 95)
    assert bench.said() == ("read that place again", None)
    add_readings(bench.store, "J1", "bonnet", "middle", (118, 119), again=True)
    assert bench.said() == ("try on a spot", "finish")


def test_readings_after_polishing_are_a_stage_of_their_own(bench: Bench) -> None:
    bench.read(118, 119, 120)
    bench.step("correct", rung="medium")
    bench.read(114, 115, 116)
    found = bench.next()
    assert found.thickness.minimum_um == 114
    (removed,) = found.removal.places
    assert (removed.removed_um, found.removal.estimated_um.high) == (4, 3)


def test_a_panel_of_unknown_paint_is_asked_about(store: Store, tmp_path: Path) -> None:
    bench = Bench(store, tmp_path)
    change_job(store, "J1", seen_version=1, paint="unknown")
    bench.shoot("decontaminated", 15)
    bench.read(118, 119, 120)
    assert bench.said() == ("say what the paint is", None)
    change_panel(store, "J1", "bonnet", seen_version=1, paint="film")
    assert bench.said() == ("stop: never polished", None)


def test_limits_know_what_was_agreed() -> None:
    goal = load_tables().goal
    assert limits_of(Target(), goal).agreed == frozenset()
    assert limits_of(Target(haze=0.1), goal).agreed == {"haze"}
    trails = limits_of(Target(trail_mm_per_cm2=0.0), goal)
    assert trails.agreed == {"trail"}
    assert trails.trail_mm_per_cm2 == 0
    assert limits_of(Target(), goal).trail_mm_per_cm2 == goal.trail_mm_per_cm2
    scratch_free = limits_of(Target(density_mm_per_cm2=2.0, longest_scratch_mm=0.0), goal)
    assert scratch_free.agreed == {"density", "longest scratch"}
    assert scratch_free.longest_scratch_mm == 0
