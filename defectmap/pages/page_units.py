"""Figures on a page in the shop's units; pixels where a photograph has no scale."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from defectmap.record.shop_style import screen_writer
from defectmap.words.page_words import figure
from defectmap.words.writer import Writer

if TYPE_CHECKING:
    from defectmap.record.store import Store


@dataclass(frozen=True, slots=True, kw_only=True)
class PageUnits:
    """How the lengths of one result are written.

    Examples
    --------
    >>> from defectmap.words.style import Style
    >>> inches = PageUnits(writer=Writer(Style(length="inch")))
    >>> inches.length(50.8), inches.density(3.0), PageUnits(writer=Writer(), scaled=False).length(50.8)
    ('2.00 in', '0.76', '51 px')
    """

    writer: Writer
    scaled: bool = True

    @property
    def inch(self) -> bool:
        """Whether lengths are inches."""
        return self.scaled and self.writer.style.length == "inch"

    @property
    def length_unit(self) -> str:
        """Unit of lengths."""
        return self.writer.length_unit if self.scaled else "px"

    @property
    def density_unit(self) -> str:
        """Unit of densities."""
        return self.writer.density_unit if self.scaled else "px/100 px²"

    @property
    def area_unit(self) -> str:
        """Unit of areas."""
        return self.writer.area_unit if self.scaled else "px² × 100"

    def length_value(self, value_mm: float) -> float:
        """A length in that unit."""
        return self.writer.length(value_mm) if self.scaled else value_mm

    def density_value(self, value: float) -> float:
        """A density in that unit."""
        return self.writer.density(value) if self.scaled else value

    def length(self, value_mm: float | None, decimals: int = 0) -> str:
        """A length with its unit; inches get two digits more."""
        if value_mm is None:
            return figure(None)
        return figure(
            self.length_value(value_mm), self.length_unit, decimals=decimals + (2 if self.inch else 0)
        )

    def density(self, value: float | None, decimals: int = 1) -> str:
        """A density without its unit; inches get a digit more."""
        if value is None:
            return figure(None)
        return figure(self.density_value(value), decimals=decimals + (1 if self.inch else 0))

    def area(self, value_cm2: float) -> str:
        """An area with its unit."""
        return figure(self.writer.area(value_cm2) if self.scaled else value_cm2, self.area_unit, decimals=0)

    def densities(self, found: Mapping[str, float]) -> dict[str, float]:
        """Densities by something, each in that unit."""
        return {name: self.density_value(value) for name, value in found.items()}

    def marks(self, marks: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
        """Marks with their lengths in that unit."""
        return [{**mark, "length_mm": self.length_value(mark["length_mm"])} for mark in marks]

    def rings(self, rings: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
        """Rings round the lamp with distances and densities in those units."""
        return [
            {
                **ring,
                "inner_mm": self.length_value(ring["inner_mm"]),
                "outer_mm": self.length_value(ring["outer_mm"]),
                "density_mm_per_cm2": self.density_value(ring["density_mm_per_cm2"] or 0.0),
            }
            for ring in rings
        ]


def units_of(store: Store, record: Mapping[str, Any]) -> PageUnits:
    """The units of one photograph's result."""
    return PageUnits(writer=screen_writer(store), scaled=record["scale"]["source"] != "none")
