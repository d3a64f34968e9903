"""What a shop enters once and the trade tables then hold: gauge, rates, products for protection."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict, replace
from decimal import Decimal
from typing import Any

from defectmap.errors import JobError
from defectmap.record.notes import put_setting, setting
from defectmap.record.rows import checked_name
from defectmap.record.shop_style import SHOP
from defectmap.record.store import Store
from defectmap.trade.care import protection_of
from defectmap.trade.facts import StepRecord
from defectmap.trade.table_forms import Protection, Range
from defectmap.trade.tables import TradeTables

PRODUCTS = "products"  # name of the setting
GAUGE = ("um", "percent", "repeat_um")
RATES = ("hour", "material_per_panel", "tax_percent")
LABEL = "from its label, entered by the shop"


def with_own(tables: TradeTables, store: Store) -> TradeTables:
    """The tables with what the shop has entered in their place."""
    shop = setting(store, SHOP, {}) or {}
    gauge = {name: float(shop[f"gauge_{name}"]) for name in GAUGE if shop.get(f"gauge_{name}") is not None}
    rates: dict[str, Any] = {
        name: Decimal(str(shop[f"rate_{name}"])) for name in RATES if shop.get(f"rate_{name}") is not None
    }
    if shop.get("currency"):
        rates["currency"] = str(shop["currency"])
    own = tuple(_product(one) for one in (setting(store, PRODUCTS, []) or []))
    return replace(
        tables,
        gauge=replace(tables.gauge, **gauge, source="the shop") if gauge else tables.gauge,
        rates=replace(tables.rates, **rates) if rates else tables.rates,
        protection=(*(kind for kind in tables.protection if kind.key not in {p.key for p in own}), *own),
    )


def keep_product(
    store: Store, tables: TradeTables, name: str, *, kind: str, label: Mapping[str, Any]
) -> Protection:
    """Keep a product for protection with the times from its label; the rest is as usual for its kind.

    Parameters
    ----------
    tables : TradeTables
        Those that hold for this record.
    kind : str
        Key of the protection that it is one of.
    label : mapping
        Fields of `Protection` that its label gives, in their units.

    Raises
    ------
    JobError
        The kind is not known, or a time cannot be right.
    """
    usual = protection_of(kind, tables)
    name = checked_name(name, "product")
    for what, value in label.items():
        ends = (value.low, value.high) if isinstance(value, Range) else (value,)
        if not all(0 <= end <= 10_000 for end in ends):
            raise JobError(
                f"{what.replace('_', ' ')}: {ends[-1]:g} cannot be right; look at the label again."
            )
    made = replace(usual, key=name, name=name, source=LABEL, **label)
    kept = [one for one in (setting(store, PRODUCTS, []) or []) if one["key"] != name]
    put_setting(store, PRODUCTS, [*kept, asdict(made)])
    return made


def drop_product(store: Store, name: str) -> None:
    """Forget a product.

    Raises
    ------
    JobError
        None of that name is kept.
    """
    kept = setting(store, PRODUCTS, []) or []
    names = [one["key"] for one in kept]
    if name not in names:
        raise JobError(f"No product {name!r} is kept; these are: {', '.join(names) or 'none'}.")
    put_setting(store, PRODUCTS, [one for one in kept if one["key"] != name])


def put_on(steps: Iterable[StepRecord], tables: TradeTables) -> Protection | None:
    """The protection that was put on last, where its product is one that the tables know by name or key."""
    known = {name.casefold(): kind for kind in tables.protection for name in (kind.name, kind.key)}
    on = sorted((step for step in steps if step.kind == "protect"), key=lambda step: step.at)
    return known.get(on[-1].product.strip().casefold()) if on else None


def _product(kept: Mapping[str, Any]) -> Protection:
    ranges = {name: Range(**kept[name]) for name in ("life_months", "level_minutes")}
    return Protection(**{**kept, **ranges})
