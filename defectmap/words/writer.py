"""Writes sentences, numbers, dates and money the way one shop does: the one place that knows its style."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import UTC, date, datetime, tzinfo
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from defectmap.words.filling import MM_PER_INCH, NONE, UNITS, Filling
from defectmap.words.style import Style
from defectmap.words.translations import translations


class Writer:
    """A style, and all that is written in it.

    Parameters
    ----------
    style : Style, optional
        Of the shop; English, millimetres and A4 if not given.
    """

    def __init__(self, style: Style | None = None) -> None:
        """Take up a style."""
        self.style = style or Style()
        self._fill = Filling(self.style)

    def tell(self, message: str, /, **values: Any) -> str:
        """A sentence in the shop's language, its values filled in.

        Parameters
        ----------
        message : str
            English, with `str.format` fields. Beside the usual ones a field may ask for the shop's unit:
            `film` (of µm), `length` (of mm), `density` (of mm/cm²), each after a number format, and with
            `number` behind it for the number alone.

        Examples
        --------
        >>> Writer(Style(language="de")).tell("{share:.1f} %", share=12.5)
        '12,5 %'
        >>> ENGLISH.tell("{low:g film number} to {high:g film}", low=1.5, high=4)
        '1.5 to 4 µm'
        >>> Writer(Style(unit="mil", length="inch")).tell("{film:film}, {at:.3g density}", film=118, at=3.0)
        '4.6 mil, 0.762 in/in²'
        """
        if not message:
            return ""
        return self._fill.format(translations(self.style.language).gettext(message), **values)

    def term(self, word: str) -> str:
        """A word of the trade or of the tables in the shop's language; a shop's own word as it is.

        Examples
        --------
        >>> Writer(Style(language="de")).term("roof"), Writer(Style(language="de")).term("{tailpiece}")
        ('Dach', '{tailpiece}')
        """
        return translations(self.style.language).gettext(word) if word else word

    def tell_many(self, one: str, many: str, number: int, /, **values: Any) -> str:
        """A sentence that depends on a number, which it calls `{number}`.

        Examples
        --------
        >>> ENGLISH.tell_many("{number} panel", "{number} panels", 2)
        '2 panels'
        """
        found = translations(self.style.language).ngettext(one, many, number)
        return self._fill.format(found, number=number, **values)

    def number(self, value: float | None, decimals: int = 1) -> str:
        """A number with its decimal mark; a dash where there is none.

        Examples
        --------
        >>> ENGLISH.number(14.23), ENGLISH.number(None)
        ('14.2', '–')
        """
        if value is None or not math.isfinite(value):
            return NONE
        return self._fill.format_field(float(value), f".{decimals}f")

    def written(self, value: Any, spec: str) -> str:
        """A value as a field of a sentence with this format writes it.

        Examples
        --------
        >>> ENGLISH.written(118.4, ".1f film")
        '118.4 µm'
        """
        return self._fill.format_field(value, spec)

    def listed(self, names: Sequence[str]) -> str:
        """Names in a sentence.

        Examples
        --------
        >>> ENGLISH.listed(["bonnet", "roof", "boot lid"])
        'bonnet, roof and boot lid'
        """
        if len(names) < 2:
            return "".join(names)
        return self.tell("{names} and {last}", names=", ".join(names[:-1]), last=names[-1])

    # Units: results hold mm, mm/cm² and µm; here they become the shop's.

    @property
    def length_unit(self) -> str:
        """Unit of lengths."""
        return self._fill.units["length"]

    @property
    def density_unit(self) -> str:
        """Unit of densities."""
        return self._fill.units["density"]

    @property
    def area_unit(self) -> str:
        """Unit of areas."""
        return "in²" if self.style.length == "inch" else "cm²"

    @property
    def film_unit(self) -> str:
        """Unit of film thickness."""
        return self._fill.units["film"]

    @property
    def film_um(self) -> float:
        """What one of that unit is in µm."""
        return UNITS[self.film_unit]

    def length(self, value_mm: float) -> float:
        """A length in the shop's unit.

        Examples
        --------
        >>> Writer(Style(length="inch")).length(50.8)
        2.0
        """
        return value_mm / UNITS[self.length_unit]

    def density(self, value_mm_per_cm2: float) -> float:
        """A density in the shop's unit: 1 mm/cm² is 0.254 inch for a square inch."""
        return value_mm_per_cm2 / UNITS[self.density_unit]

    def area(self, value_cm2: float) -> float:
        """An area in the shop's unit."""
        return value_cm2 / (MM_PER_INCH / 10) ** 2 if self.style.length == "inch" else value_cm2

    def film(self, value_um: float | None, decimals: int = 0) -> str:
        """A film thickness with its unit; mils get one digit more, as gauges show them.

        Examples
        --------
        >>> ENGLISH.film(118.4), Writer(Style(unit="mil")).film(118.4)
        ('118 µm', '4.7 mil')
        """
        return self._fill.format_field(value_um, f".{decimals}f film")

    def films(self, low_um: float, high_um: float) -> str:
        """From the low to the high end of a thickness, with its unit.

        Examples
        --------
        >>> ENGLISH.films(1.5, 4), Writer(Style(unit="mil")).films(1.5, 4)
        ('1.5 to 4 µm', '0.06 to 0.16 mil')
        """
        if low_um == high_um:
            return self._fill.format_field(low_um, ".3g film")
        return self.tell("{low:.3g film number} to {high:.3g film}", low=low_um, high=high_um)

    # Days, moments and money

    def day(self, moment: str | date | None) -> str:
        """The day of an ISO 8601 moment or day, in the shop's time zone and style; a dash if there is none.

        Examples
        --------
        >>> Writer(Style(time_zone="Asia/Tokyo", dates="day first")).day("2026-05-12T20:41:10+00:00")
        '13 May 2026'
        >>> ENGLISH.day("2026-05-12")
        '2026-05-12'
        """
        if not moment:
            return NONE
        return self._day(moment if isinstance(moment, date) else self._local(moment))

    def moment(self, moment: str | None) -> str:
        """Day and minute of an ISO 8601 moment; one without a zone (a camera's clock) stays as it is.

        Examples
        --------
        >>> Writer(Style(time_zone="Europe/Berlin")).moment("2026-05-12T08:41:10.000000+00:00")
        '2026-05-12 10:41'
        >>> ENGLISH.moment("2026-05-12T08:41:10"), ENGLISH.moment(None)
        ('2026-05-12 08:41', '–')
        """
        if not moment:
            return NONE
        local = self._local(moment)
        return f"{self._day(local)} {local:%H:%M}"

    def money(self, amount: float | Decimal) -> str:
        """An amount in the shop's currency.

        Examples
        --------
        >>> Writer(Style(currency="USD")).money(1250)
        '$1,250.00'
        """
        from babel.numbers import format_currency

        return str(format_currency(amount, self.style.currency, locale=self.style.language))

    def _day(self, day: date) -> str:
        if self.style.dates == "year first":
            return day.strftime("%Y-%m-%d")
        from babel.dates import format_date

        english = {"day first": "d MMM y", "month first": "MMM d, y"}[self.style.dates]  # 5/6 may be either
        usual = "medium" if self.style.dates == "day first" and self.style.language != "en" else english
        return str(format_date(day, usual, locale=self.style.language))

    def _local(self, moment: str) -> datetime:
        found = datetime.fromisoformat(moment)
        return found if found.tzinfo is None else found.astimezone(zone_of(self.style.time_zone))


def zone_of(name: str) -> tzinfo | None:
    """A time zone by its IANA name; None is the computer's own, as for a name that is not known."""
    if not name:
        return None
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return UTC if name == "UTC" else None


def N_(message: str) -> str:  # the name under which GNU gettext looks for such sentences
    """Mark a sentence that is translated where it is written, not where it stands."""
    return message


ENGLISH = Writer()
