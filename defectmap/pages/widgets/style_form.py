"""The form for how the shop writes: language, units, dates, money, paper, and its own mark."""

from __future__ import annotations

import streamlit as st

from defectmap.record.shop_style import change_style, keep_mark, shop_mark, shop_style
from defectmap.record.store import Store
from defectmap.words.style import CHOICES, Style
from defectmap.words.translations import languages

LANGUAGES = {"en": "English", "de": "Deutsch"}
NAMES = {"paper": "Paper", "length": "Lengths", "dates": "Dates"}
WORDS = {
    "inch": "inch",
    "year first": "2026-05-12",
    "day first": "12 May 2026",
    "month first": "May 12, 2026",
}


def style_form(store: Store) -> None:
    """Draw the form; what is kept holds for every paper and screen."""
    known = shop_style(store)
    with st.form("set_up_style", border=False):
        codes = languages()
        language = st.selectbox(
            "Language of papers",
            codes,
            index=codes.index(known.language) if known.language in codes else 0,
            format_func=lambda code: LANGUAGES.get(code, code),
        )
        given = {"language": language, **_choices(known)}
        left, right = st.columns(2)
        given["currency"] = left.text_input("Currency, three letters", known.currency, max_chars=3).upper()
        given["time_zone"] = right.text_input(
            "Time zone (empty: this computer's)", known.time_zone, placeholder="Europe/Berlin", max_chars=60
        )
        picture = st.file_uploader("Your own mark, for the head of papers", type=["png", "jpg", "jpeg"])
        drop = st.checkbox("Take the mark away") if shop_mark(store) is not None else False
        if st.form_submit_button("Save style", type="primary"):
            change_style(store, given)
            if picture is not None or drop:
                keep_mark(store, None if picture is None else picture.getvalue())
            st.rerun()


def _choices(known: Style) -> dict[str, str]:
    found = {}
    for column, (name, label) in zip(st.columns(len(NAMES)), NAMES.items(), strict=True):
        options = CHOICES[name]
        found[name] = column.radio(
            label,
            options,
            index=options.index(getattr(known, name)),
            format_func=lambda one: WORDS.get(one, one),
        )
    return found
