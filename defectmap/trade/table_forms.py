"""The form of each of the shop's trade tables: names, units, and what a figure may be.

pydantic reads these frozen dataclasses (`tables.load_tables`).
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Annotated, Any, ClassVar, Literal

from annotated_types import Ge, Gt, Le, MinLen

OWN = "the shop"  # where a shop's own file does not say

Share = Annotated[float, Gt(0), Le(1)]
Amount = Annotated[float, Ge(0), Le(1e6)]
Positive = Annotated[float, Gt(0), Le(1e6)]
Words = Annotated[str, MinLen(1)]
Cut = Literal["finishing", "medium", "heavy"]


@dataclass(frozen=True, slots=True)
class Form:
    """A part of the tables; pydantic takes no keys beyond its fields."""

    __pydantic_config__: ClassVar[dict[str, Any]] = {"extra": "forbid"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Sourced(Form):
    """A table that says where its figures are from."""

    source: Words = OWN


@dataclass(frozen=True, slots=True)
class Range(Form):
    """From the low to the high end of what is usual."""

    low: Amount
    high: Amount

    def __post_init__(self) -> None:
        """Refuse a low end above the high end."""
        if self.low > self.high:
            raise ValueError(f"low {self.low:g} is above high {self.high:g}")


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmThickness(Sourced):
    """What is assumed of the paint film, in µm."""

    whole_um: Range  # factory film down to the metal
    clear_um: Range  # clear coat in it
    keep_share: Share  # of the clear coat that stays
    keep_um: Amount  # and never less than this
    lifetime_um: Positive  # never more than this is taken off, over all corrections
    thin_um: Positive  # whole film below which no machine goes on
    filled_um: Positive  # whole film above which a filler is suspected
    repaint_ratio: Annotated[float, Gt(1), Le(10)]  # to the vehicle's median panel
    fresh_days: Positive  # before new paint is polished, where the painter says nothing else


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauge(Sourced):
    """The shop's film thickness gauge."""

    um: Amount
    percent: Annotated[float, Ge(0), Le(50)]
    repeat_um: Positive  # closer than this, two readings of one place say the same

    def uncertainty_um(self, value_um: float) -> float:
        """What a reading is uncertain by, either way, in µm.

        Examples
        --------
        >>> Gauge(um=3, percent=3, repeat_um=4).uncertainty_um(100)
        6.0
        """
        return self.um + self.percent / 100 * value_um


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfaceRow(Sourced):
    """What may be done to one kind of surface."""

    key: Literal[
        "clear coat", "single stage", "plastic", "composite", "repaint", "matt", "satin", "film", "wrap"
    ]
    polish: bool  # whether abrasives touch it at all
    strongest: Cut = "finishing"
    rotary: bool = False
    lifetime_um: Amount = 0  # never more than this comes off


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect(Sourced):
    """The least change that matters."""

    density_percent: Positive
    density_mm_per_cm2: Positive
    haze: Positive
    haze_percent: Positive
    alike_ratio: Annotated[float, Gt(1), Le(10)]  # of densities of panels in the same condition


@dataclass(frozen=True, slots=True, kw_only=True)
class Sets(Sourced):
    """What a set of movements is."""

    movements: Range  # over one section with one charge of product
    usual_most: Annotated[int, Ge(1), Le(20)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rung(Sourced):
    """One correction step of the ladder."""

    key: Words
    name: Words
    cut: Cut
    pad: Literal["soft foam", "medium foam", "firm foam", "fibre", "wool"]
    machine: Literal["random orbital", "rotary"]
    removal_um: Range  # by one set
    sets: Annotated[int, Ge(1), Le(10)]  # usual number
    section_s: Positive  # one set on one section
    leaves_haze: bool  # needs finishing down


@dataclass(frozen=True, slots=True, kw_only=True)
class Grade(Sourced):
    """One grade of decontamination."""

    name: Words
    feel: Literal["smooth", "slightly rough", "rough"]  # roughest feel that it is enough for
    up_to_months: Positive  # since the last one; longer than this is worth a warning, and no more
    minutes_per_m2: Positive
    clay: bool = True
    remover: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Protection(Sourced):
    """One kind of protection."""

    key: Words
    name: Words
    life_months: Range
    check_months: Positive  # between two looks at it
    level_minutes: Range  # from when to when it is levelled or wiped off
    keep_dry_hours: Amount
    no_wash_days: Amount
    minutes_per_m2: Positive


@dataclass(frozen=True, slots=True, kw_only=True)
class Times(Sourced):
    """Time that does not depend on the correction step."""

    section_m2: Positive
    wash_minutes: Amount
    inspect_minutes_per_panel: Amount
    test_spot_minutes: Amount
    wipe_minutes_per_panel: Amount


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates(Sourced):
    """What the shop charges; zero until the shop fills it in."""

    currency: Annotated[str, MinLen(1)]
    hour: Annotated[Decimal, Ge(0), Le(100_000)]
    material_per_panel: Annotated[Decimal, Ge(0), Le(100_000)]
    tax_percent: Annotated[Decimal, Ge(0), Le(100)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Goal(Sourced):
    """What is aimed at where nothing else was agreed."""

    density_mm_per_cm2: Positive
    haze: Amount  # 0 sets no limit: haze depends on the lamp
    trail_mm_per_cm2: Positive  # buffer trails above this ask for finishing down
    least_density_mm_per_cm2: Amount = 0  # a target below this is out of reach
    least_haze: Amount = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelRow(Form):
    """A panel of the standard list of one kind of vehicle."""

    name: Words
    area_m2: Positive
    material: Literal["steel", "aluminium", "plastic", "composite", "unknown"] = "unknown"
    also: tuple[str, ...] = ()  # other words for it
