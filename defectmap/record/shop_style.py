"""How this shop writes: its style and its own mark, one setting for every screen and paper."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from defectmap.errors import JobError
from defectmap.record.drawings import small_drawing
from defectmap.record.notes import put_setting, setting
from defectmap.record.store import Store
from defectmap.words.style import CHOICES, Style, style_of
from defectmap.words.translations import SOURCE, languages
from defectmap.words.writer import Writer, zone_of

SHOP = "shop"  # name of the setting
MARK = "mark"
MARK_PX = 600  # longer side of the mark as it is kept
MOST_MARK_BYTES = 20_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """What stands at the head of every paper, and how it is written."""

    name: str
    mark: bytes | None
    style: Style


def shop_of(store: Store) -> Shop:
    """The shop of this record."""
    kept = setting(store, SHOP, {}) or {}
    return Shop(name=str(kept.get("name") or ""), mark=_mark(kept), style=style_of(kept))


def shop_style(store: Store) -> Style:
    """The style of the shop; the usual one where nothing was chosen."""
    return style_of(setting(store, SHOP, {}) or {})


def shop_writer(store: Store) -> Writer:
    """Writes in the shop's style."""
    return Writer(shop_style(store))


def screen_writer(store: Store) -> Writer:
    """Writes in the shop's units, dates and money, and in English as the command line does."""
    return Writer(replace(shop_style(store), language=SOURCE))


def shop_mark(store: Store) -> bytes | None:
    """The shop's own picture for the head of papers, PNG; None where there is none."""
    return shop_of(store).mark


def change_style(store: Store, given: Mapping[str, str]) -> Style:
    """Change what is given of the style and keep the rest.

    Parameters
    ----------
    given : mapping
        Names as in `Style`.

    Raises
    ------
    JobError
        A choice is not valid; the sentence names those that are.
    """
    for name, value in given.items():
        _check(name, value)
    put_setting(store, SHOP, {**(setting(store, SHOP, {}) or {}), **given})
    return shop_style(store)


def keep_mark(store: Store, picture: bytes | None) -> None:
    """Keep the shop's own picture, made small and without metadata; None takes it away.

    Raises
    ------
    JobError
        It is not a picture that can be read.
    """
    kept = dict(setting(store, SHOP, {}) or {})
    kept.pop(MARK, None)
    if picture is not None:
        kept[MARK] = base64.b64encode(
            small_drawing(picture, name="The mark", longest_side_px=MARK_PX)
        ).decode()
    put_setting(store, SHOP, kept)


def mark_from(path: Path) -> bytes:
    """Read a picture file for the mark.

    Raises
    ------
    JobError
        The file cannot be read or is too large.
    """
    try:
        if path.stat().st_size > MOST_MARK_BYTES:
            raise JobError(f"{path.name} is larger than 20 MB; give a smaller picture.")
        return path.read_bytes()
    except OSError as error:
        raise JobError(f"{path} cannot be opened ({error.strerror}); check the name.") from error


def _mark(kept: Mapping[str, Any]) -> bytes | None:
    return base64.b64decode(kept[MARK]) if kept.get(MARK) else None


def _check(name: str, value: str) -> None:
    choices = languages() if name == "language" else CHOICES.get(name)
    if choices is not None and value not in choices:
        raise JobError(f"{value!r} is not a valid {name}; use one of: {', '.join(choices)}.")
    if name == "time_zone" and value and zone_of(value) is None:
        raise JobError(f"{value!r} is not a known time zone; write it as Europe/Berlin or America/Chicago.")
    if name == "currency" and not (len(value) == 3 and value.isascii() and value.isupper()):
        raise JobError(f"{value!r} is not a currency code; use three letters, such as EUR or USD.")
