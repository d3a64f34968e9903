"""A code and its values become a sentence for one audience, in one language and style."""

from __future__ import annotations

import pytest

from defectmap.words.remark import Audience, Remark, Table, Wording, sentence
from defectmap.words.style import Style
from defectmap.words.writer import ENGLISH, Writer

TABLE: Table = {
    "plain": "The lamp is {stops:.1f} stops brighter.",
    "to do": Wording(
        says="The scatter is assumed.",
        page="Measure it on the page Set-up.",
        terminal="Run `defectmap repeat`.",
    ),
}


@pytest.mark.parametrize(
    ("audience", "words"),
    [
        ("customer", "The scatter is assumed."),
        ("page", "The scatter is assumed. Measure it on the page Set-up."),
        ("terminal", "The scatter is assumed. Run `defectmap repeat`."),
    ],
)
def test_each_audience_is_told_what_it_can_do(audience: Audience, words: str) -> None:
    assert sentence(Remark(code="to do"), TABLE, audience=audience) == words


def test_values_are_filled_in_with_the_languages_decimal_mark() -> None:
    remark = Remark(code="plain", values={"stops": 1.25})
    assert sentence(remark, TABLE) == "The lamp is 1.2 stops brighter."
    assert sentence(remark, TABLE, writer=Writer(Style(language="de"))).count("1,2") == 1


def test_an_unknown_code_is_a_bug_and_shows_itself() -> None:
    with pytest.raises(KeyError):
        sentence(Remark(code="nothing"), TABLE)


def test_braces_in_a_value_are_not_read_as_a_template() -> None:
    remark = Remark(code="name", values={"name": "{0} roof"})
    assert sentence(remark, {"name": "Panel {name}."}) == "Panel {0} roof."


def test_units_follow_the_handbook() -> None:
    # NIST SP 811, appendix B.8: 1 inch = 25.4 mm, 1 mil = 25.4 µm, exactly
    inch = Writer(Style(length="inch", unit="mil"))
    assert inch.length(25.4) == pytest.approx(1.0)
    assert inch.film(254.0) == "10.0 mil"
    # 1 mm over 1 cm²: (1 / 25.4) inch over (1 / 2.54²) square inch
    assert inch.density(1.0) == pytest.approx((1 / 25.4) / (1 / 2.54**2))
    assert inch.area(6.4516) == pytest.approx(1.0)
    assert (ENGLISH.length(3.0), ENGLISH.density(3.0), ENGLISH.area(3.0)) == (3.0, 3.0, 3.0)


@pytest.mark.parametrize(
    ("field", "value", "metric", "inch"),
    [  # by the same factors
        ("{v:film}", 118.4, "118 µm", "4.7 mil"),
        ("{v:film number}", 118.4, "118", "4.7"),
        ("{v:.1f film}", 5.08, "5.1 µm", "0.20 mil"),
        ("{v:g film}", 1.5, "1.5 µm", "0.06 mil"),
        ("{v:.0f length}", 50.8, "51 mm", "2.0 in"),
        ("{v:g length number}", 20.0, "20", "0.787"),
        ("{v:.3g density}", 10.0, "10 mm/cm²", "2.54 in/in²"),
        ("{v:.1f density number}", 10.0, "10.0", "2.54"),
        ("{v:film}", None, "–", "–"),
        ("{v:.1f}", 5.0, "5.0", "5.0"),
    ],
)
def test_a_field_is_written_in_the_shops_unit(
    field: str, value: float | None, metric: str, inch: str
) -> None:
    assert ENGLISH.tell(field, v=value) == metric
    assert Writer(Style(length="inch", unit="mil")).tell(field, v=value) == inch


@pytest.mark.parametrize(
    ("template", "value", "limit", "said"),
    [
        ("{a:.0%} (limit {limit:.0%})", 0.451, 0.45, "45.1 % (limit 45 %)"),
        ("{a:film} is above {limit:film}", 180.3, 180.0, "7.10 mil is above 7.09 mil"),
        ("{a:film} is above {limit:film}", 200.0, 180.0, "7.9 mil is above 7.1 mil"),
    ],
)
def test_a_figure_is_told_from_its_limit_in_every_unit(
    template: str, value: float, limit: float, said: str
) -> None:
    remark = Remark(code="off", values={"a": value, "limit": limit})
    assert sentence(remark, {"off": template}, writer=Writer(Style(unit="mil"))) == said


def test_a_remark_inside_a_remark_is_worded_too() -> None:
    table = {"above": "Above {aim}: {found}.", "agreed": "what was agreed", "found": "{v:.3g density}"}
    parts = {"aim": Remark(code="agreed"), "found": Remark(code="found", values={"v": 3.0})}
    remark = Remark(code="above", values=parts)
    assert sentence(remark, table) == "Above what was agreed: 3 mm/cm²."
    assert remark.record()["values"]["found"] == {"code": "found", "values": {"v": 3.0}}
    listed = Remark(code="above", values={**parts, "aim": (Remark(code="agreed"), Remark(code="agreed"))})
    assert sentence(listed, table) == "Above what was agreed and what was agreed: 3 mm/cm²."


def test_words_of_the_trade_are_in_the_writers_language_and_a_shops_own_stay() -> None:
    german = Writer(Style(language="de"))
    remark = Remark(code="on", values={"panel": "roof", "place": "our bench"})
    assert sentence(remark, {"on": "{panel}, {place}"}, writer=german) == "Dach, our bench"


def test_a_moment_is_told_in_the_shops_time_zone_across_the_change_of_clocks() -> None:
    # IANA time zone database: Europe/Berlin is UTC+1 in January, UTC+2 in July
    berlin = Writer(Style(time_zone="Europe/Berlin"))
    assert berlin.moment("2026-01-15T23:30:00+00:00") == "2026-01-16 00:30"
    assert berlin.moment("2026-07-15T23:30:00+00:00") == "2026-07-16 01:30"
    assert berlin.day("2026-07-15T23:30:00Z") == "2026-07-16"


def test_money_is_written_as_unicode_cldr_does() -> None:
    assert Writer(Style(currency="EUR", language="de")).money(1234.5).replace("\xa0", " ") == "1.234,50 €"


@pytest.mark.parametrize(
    ("error", "said"),
    [(1.53, "1.53 %"), (1.5004, "1.5004 %"), (1.4996, "1.4996 %"), (1.7, "1.7 %"), (1.5, "1.5 %")],
)
def test_a_figure_is_never_written_like_the_limit_that_it_misses(error: float, said: str) -> None:
    table = {"off": "Off by {error:.1f} % (limit {limit:.1f} %)."}
    remark = Remark(code="off", values={"error": error, "limit": 1.5})
    assert sentence(remark, table) == f"Off by {said} (limit 1.5 %)."
    german = Writer(Style(language="de"))
    assert sentence(remark, table, writer=german) == f"Off by {said} (limit 1.5 %).".replace("1.", "1,")
