"""What the shop charges: three fields, written into its tables where they stand."""

from __future__ import annotations

import re
from collections.abc import Mapping

import streamlit as st

from defectmap.trade.table_forms import Rates

FIELDS: Mapping[str, str] = {
    "hour": "For an hour, {currency}",
    "material_per_panel": "Material a corrected panel, {currency}",
    "tax_percent": "Tax, %",
}
TABLE = re.compile(r"^\[rates\][^\[]*", re.MULTILINE)


def rates_form(now: Rates, *, currency: str) -> dict[str, str] | None:
    """Draw it; what is to be kept, once somebody asks for it.

    Parameters
    ----------
    currency : str
        Of the shop (ISO 4217); quotes and invoices are in it once the rates are kept.
    """
    with st.form("set_up_rates", border=False):
        row = st.container(horizontal=True)
        given = {"currency": f'"{currency}"'}
        for name, label in FIELDS.items():
            with row.container(width=240):
                value = float(getattr(now, name))
                shown = label.format(currency=currency)
                given[name] = f"{st.number_input(shown, 0.0, None, value, 1.0, key=f'rates_{name}'):.2f}"
        return given if st.form_submit_button("Keep the rates", type="primary") else None


def with_rates(text: str, rates: Mapping[str, str]) -> str:
    """The tables with other rates; all else, and what is remarked beside it, stays as it is.

    Parameters
    ----------
    text : str
        The shop's tables (TOML).
    rates : mapping
        Names in the table `rates` to values as TOML writes them.

    Examples
    --------
    >>> print(with_rates('[rates]  # yours\\nhour = 0\\n\\n[goal]\\nhaze = 0.1', {"hour": "80"}))
    [rates]  # yours
    hour = 80
    <BLANKLINE>
    [goal]
    haze = 0.1
    """
    found = TABLE.search(text)
    if found is None:
        lines = "\n".join(f"{name} = {value}" for name, value in rates.items())
        return f"{text.rstrip()}\n\n[rates]\n{lines}\n"
    table = found.group()
    for name, value in rates.items():
        line = re.compile(rf"^{name}\s*=[^#\n]*?(?=\s*(#|$))", re.MULTILINE)
        table = (
            line.sub(f"{name} = {value}", table)
            if line.search(table)
            else f"{table.rstrip()}\n{name} = {value}\n\n"
        )
    return text[: found.start()] + table + text[found.end() :]
