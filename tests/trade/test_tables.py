"""The trade tables: complete as shipped, every error at its place; and the plan of a whole job."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from defectmap.errors import JobError, TablesError
from defectmap.trade.budget import Budget, budget_for
from defectmap.trade.care import add_months, care_days, upkeep
from defectmap.trade.facts import PanelRecord
from defectmap.trade.plan import (
    Wanted,
    correction_minutes,
    decontamination_cautions,
    decontamination_grade,
    plan_job,
)
from defectmap.trade.quoting import WorkLine, quote
from defectmap.trade.table_forms import Rates
from defectmap.trade.tables import SHIPPED, load_tables
from defectmap.trade.thickness import panel_thickness
from defectmap.words.trade_words import told_all
from tests.trade.rules import history, panel, readings

TABLES = load_tables()


def own(tmp_path: Path, text: str) -> Path:
    file = tmp_path / "tables.toml"
    file.write_text(text, encoding="utf-8")
    return file


def test_the_shipped_tables_hold_a_ladder_and_four_kinds_of_vehicle() -> None:
    assert TABLES.ladder[0].cut == "finishing"
    assert {"finishing", "medium", "heavy"} == {rung.cut for rung in TABLES.ladder}
    assert {"random orbital", "rotary"} == {rung.machine for rung in TABLES.ladder}
    assert set(TABLES.panels) == {"car", "van", "motorcycle", "boat"}
    assert "common practice" in SHIPPED.read_text(encoding="utf-8")
    assert TABLES.rates.hour == 0  # no invented price reaches a customer


def test_an_absent_file_means_the_shipped_tables(tmp_path: Path) -> None:
    assert load_tables(tmp_path / "none.toml") == TABLES


def test_a_shop_changes_only_what_it_names(tmp_path: Path) -> None:
    tables = load_tables(own(tmp_path, "[rates]\nhour = 62.5\n[film]\nkeep_um = 25\n"))
    assert (tables.rates.hour, tables.rates.currency) == (Decimal("62.5"), "EUR")
    assert (tables.film.keep_um, tables.film.lifetime_um) == (25, TABLES.film.lifetime_um)
    assert tables.ladder == TABLES.ladder


RUNG = """[[ladder]]
key = "a"
name = "a"
cut = "finishing"
pad = "soft foam"
machine = "random orbital"
removal_um = {{ low = 1, high = {high} }}
sets = 1
section_s = 60
leaves_haze = false
"""


def rung(high: float, key: str = "a") -> str:
    return RUNG.format(high=high).replace('"a"', f'"{key}"')


@pytest.mark.parametrize(
    ("text", "problems"),
    [
        ("[film]\nkeep_um = -1", ["film.keep_um: "]),
        ("[film]\nclear_um = { low = 50, high = 35 }", ["film.clear_um: low 50 is above high 35"]),
        ("[film]\nclear_um = { low = 35, high = 500 }", ["film.clear_um: a clear coat cannot be thicker"]),
        ("[film]\nkeep_share = 1.5\nshiny = 2", ["film.keep_share: ", "film.shiny: "]),
        ("[rates]\nhour = 'cheap'\ntax_percent = 190", ["rates.hour: ", "rates.tax_percent: "]),
        ("lader = 1", ["lader: "]),
        (rung(0.5), ["ladder[0].removal_um: low 1 is above high 0.5"]),
        (rung(3) + rung(2, "b"), ["ladder[1].removal_um.high: 'b' has less than 'a'"]),
        (rung(3) + rung(4), ["ladder[1]: 'a' stands there twice"]),
        (rung(3).replace("finishing", "heavy"), ["ladder[0].cut: the first rung must be a finishing step"]),
        (
            rung(3).replace("soft foam", "brick").replace("60", "nan"),
            ["ladder[0].pad: ", "ladder[0].section_s: "],
        ),
        ("ladder = []", ["ladder: "]),
        ("[panels]\ncar = [{ name = 'bonnet' }]", ["panels.car[0].area_m2: "]),
        ("[checklists]\nhand-over = ['', 3]", ["checklists.hand-over[0]: ", "checklists.hand-over[1]: "]),
    ],
)
def test_every_error_is_given_with_its_place(tmp_path: Path, text: str, problems: list[str]) -> None:
    with pytest.raises(TablesError) as caught:
        load_tables(own(tmp_path, text))
    assert len(caught.value.problems) == len(problems), caught.value.problems
    for found, expected in zip(caught.value.problems, problems, strict=True):
        assert found.startswith(expected)
        assert found in str(caught.value)


@pytest.mark.parametrize("text", ["[film\nb = 1\n", "a = 1\na = 2\nb = 1\n", "x = \nb = 1\n"])
def test_what_is_no_toml_is_answered_with_the_line(tmp_path: Path, text: str) -> None:
    with pytest.raises(TablesError, match="line"):
        load_tables(own(tmp_path, text))


def test_a_file_in_another_encoding_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "tables.toml"
    file.write_bytes("[rates]\ncurrency = '£'".encode("latin-1"))
    with pytest.raises(TablesError, match="cannot be read"):
        load_tables(file)


# The feel of the washed paint decides, through a thin bag (common practice, no source).
@pytest.mark.parametrize(("feel", "grade"), [("smooth", 0), ("slightly rough", 1), ("rough", 2)])
def test_the_grade_follows_the_feel(feel: str, grade: int) -> None:
    assert decontamination_grade(feel, TABLES.decontamination) == TABLES.decontamination[grade]  # type: ignore[arg-type]


@pytest.mark.parametrize(("months", "codes"), [(6, []), (30, ["months passed"])])
def test_months_only_warn(months: float, codes: list[str]) -> None:
    smooth = decontamination_grade("smooth", TABLES.decontamination)
    assert (smooth.clay, smooth.remover) == (False, False)
    assert [remark.code for remark in decontamination_cautions(smooth, months)] == codes


def test_clay_and_removers_come_with_their_cautions() -> None:
    rough = decontamination_grade("rough", TABLES.decontamination)
    said = " ".join(told_all(decontamination_cautions(rough, 1)))
    for word in ("Clay mars", "cool paint", "shade", "gloves", "air", "rinse before they dry"):
        assert word in said


def test_an_impossible_feel_or_time_is_refused() -> None:
    with pytest.raises(JobError, match="greasy"):
        decontamination_grade("greasy", TABLES.decontamination)  # type: ignore[arg-type]
    for months in (-1, float("nan")):
        with pytest.raises(JobError, match="cannot be right"):
            decontamination_cautions(TABLES.decontamination[0], months)


def test_protection_has_three_times_and_its_days_in_order() -> None:
    coating = next(kind for kind in TABLES.protection if kind.key == "coating")
    assert coating.level_minutes.high < 60 < coating.keep_dry_hours * 60 < coating.no_wash_days * 1440
    days = care_days(coating, date(2026, 3, 2))
    assert [one.kind for one in days] == ["wash again", "look", "follow-up", "renew from", "renew by"]
    assert (days[0].day, days[-1].day) == (date(2026, 3, 9), date(2029, 3, 2))


def test_every_table_says_where_its_figures_come_from() -> None:
    shipped = load_tables()
    rows: list[Any] = [*shipped.surface, *shipped.ladder, *shipped.decontamination, *shipped.protection]
    rows += [shipped.film, shipped.gauge, shipped.effect, shipped.sets, shipped.times, shipped.goal]
    assert {type(row).__name__ for row in rows if not row.source} == set()
    assert sum("common practice, no source" in row.source for row in rows) > 15


def test_time_goes_by_whole_sections() -> None:
    finish = TABLES.ladder[0]  # 150 s a section of 0.25 m²
    assert correction_minutes(1.5, finish, 1, times=TABLES.times) == pytest.approx(6 * 150 / 60)
    assert correction_minutes(1.51, finish, 2, times=TABLES.times) == pytest.approx(7 * 2 * 150 / 60)


@pytest.mark.parametrize(
    ("day", "months", "expected"),
    [
        (date(2026, 1, 31), 1, date(2026, 2, 28)),
        (date(2028, 1, 31), 1, date(2028, 2, 29)),  # a leap year
        (date(2026, 11, 15), 3, date(2027, 2, 15)),
        (date(2026, 3, 2), 0, date(2026, 3, 2)),
    ],
)
def test_months_keep_the_day_or_end_with_the_month(day: date, months: int, expected: date) -> None:
    assert add_months(day, months) == expected


def test_upkeep_lists_checks_up_to_the_earliest_end_of_life() -> None:
    coating = next(
        kind for kind in TABLES.protection if kind.key == "sealant"
    )  # 4 to 12 months, look every 3
    plan = upkeep(coating, date(2026, 3, 2))
    assert plan.checks == (date(2026, 6, 2),)
    assert (plan.renew_from, plan.renew_until) == (date(2026, 7, 2), date(2027, 3, 2))


def test_a_quote_adds_up_to_the_cent() -> None:
    rates = Rates(
        currency="EUR", hour=Decimal("61.30"), material_per_panel=Decimal("4.25"), tax_percent=Decimal(19)
    )
    work = [WorkLine(what="wash", panel=None, minutes=50), WorkLine(what="wipe", panel="roof", minutes=3)]
    found = quote(work, 1, rates)
    # 50/60 x 61.30 = 51.0833, 3/60 x 61.30 = 3.065 rounded half up, 4.25; 19 % of 58.40 = 11.096 (by hand)
    assert [line.amount for line in found.lines] == [Decimal("51.08"), Decimal("3.07"), Decimal("4.25")]
    assert (found.net, found.tax, found.total) == (Decimal("58.40"), Decimal("11.10"), Decimal("69.50"))
    assert found.priced


amounts = st.decimals(0, 500, places=2)


@given(st.lists(st.tuples(st.sampled_from("abc"), st.floats(0, 500)), max_size=12), amounts, amounts)
def test_the_lines_of_a_quote_are_its_sum(
    lines: list[tuple[str, float]], hour: Decimal, tax: Decimal
) -> None:
    rates = Rates(currency="EUR", hour=hour, material_per_panel=Decimal(1), tax_percent=tax % 100)
    work = [WorkLine(what=what, panel=None, minutes=minutes) for what, minutes in lines]
    found = quote(work, 2, rates)
    assert sum((line.amount for line in found.lines), Decimal(0)) == found.net
    assert found.net + found.tax == found.total
    assert abs(found.tax - found.net * rates.tax_percent / 100) <= Decimal("0.005")
    assert len({line.what for line in found.lines}) == len(found.lines)


def two_panels() -> tuple[list[PanelRecord], list[Budget]]:
    panels = [panel(name="bonnet", area_m2=1.5), panel(name="roof", area_m2=2.0)]
    films = [readings(110, 111, 112), readings(70, 71, 72)]  # the roof is too thin for any machine
    budgets = [
        budget_for(
            history(panel=p, readings=r),
            panel_thickness(p.name, r, TABLES.film, TABLES.gauge),
            TABLES.film,
            TABLES.gauge,
        )
        for p, r in zip(panels, films, strict=True)
    ]
    return panels, budgets


def wanted(**given: object) -> Wanted:
    finish = [(TABLES.ladder[0], 1)]
    values = {
        "feel": "smooth",
        "months_since": 6,
        "corrections": {"bonnet": finish, "roof": finish},
        "protection": "wax",
        "done_on": date(2026, 3, 2),
    }
    return Wanted(**{**values, **given})  # type: ignore[arg-type]


def test_a_plan_leaves_out_what_the_clear_coat_does_not_allow() -> None:
    panels, budgets = two_panels()
    plan = plan_job(panels, budgets, wanted(), TABLES)
    assert [bool(plan.corrections[name].steps) for name in ("bonnet", "roof")] == [True, False]
    assert plan.corrections["roof"].alternatives
    assert {line.panel for line in plan.work if line.what == "correct"} == {"bonnet"}
    # 60 wash + 3.5 m² x 1 feel + 2 x 4 look + 20 test spot + 15 finish + 3 wipe + 2 x 4 look + 3.5 x 4 wax
    assert plan.minutes == pytest.approx(60 + 3.5 + 8 + 20 + 15 + 3 + 8 + 14)
    assert not plan.quote.priced
    assert plan.quote.total == 0
    assert plan.hand_over
    assert any("too thin for any machine" in words for words in told_all(plan.remarks["roof"]))
    assert any("eye protection" in caution for caution in told_all(plan.cautions))


def test_a_plan_for_what_is_not_there_is_refused() -> None:
    panels, budgets = two_panels()
    with pytest.raises(JobError, match="no panel 'wing'"):
        plan_job(panels, budgets, wanted(corrections={"wing": []}), TABLES)
    with pytest.raises(JobError, match="wax, sealant, coating"):
        plan_job(panels, budgets, wanted(protection="paint"), TABLES)


def test_one_test_spot_is_booked_for_all_panels_of_the_same_paint() -> None:
    names = ["bonnet", "roof", "left front door"]
    panels = [panel(name=name) for name in names] + [panel(name="front bumper", material="plastic")]
    found = readings(110, 111, 112)
    budgets = [
        budget_for(
            history(panel=p, readings=found),
            panel_thickness(p.name, found, TABLES.film, TABLES.gauge),
            TABLES.film,
            TABLES.gauge,
        )
        for p in panels
    ]
    finish = [(TABLES.ladder[0], 1)]
    asked = wanted(corrections={p.name: finish for p in panels}, paint="clear coat")
    work = plan_job(panels, budgets, asked, TABLES).work
    assert [line.panel for line in work if line.what == "test spot"] == ["bonnet", "front bumper"]
