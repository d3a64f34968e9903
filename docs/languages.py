"""Find every sentence that is translated, and bring the languages' files up to date.

    .venv/bin/python docs/languages.py

New sentences are added without a translation and listed; those that are gone are dropped. To add a language,
run it with its code (`docs/languages.py es`), translate `defectmap/words/languages/es.po`, and choose it as
the shop's.
"""

from __future__ import annotations

import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.pofile import read_po, write_po

from defectmap.record.panels import MATERIALS
from defectmap.record.shop_tables import LABEL
from defectmap.trade.damage import DAMAGE_KINDS
from defectmap.trade.stages import STAGE_NAMES, STEP_KINDS
from defectmap.trade.surface import PAINTS
from defectmap.trade.tables import load_tables
from defectmap.words import guide
from defectmap.words.remark import Table, Wording
from defectmap.words.sentence_tables import FILE, table
from defectmap.words.translations import FOLDER, SOURCE, languages

PACKAGE = FOLDER.parents[1]
KEYWORDS = {"tell": None, "tell_many": (1, 2), "N_": None}
METHODS = [("**.py", "python"), ("**/templates/**.jinja", "jinja2")]
OPTIONS = {"**/templates/**.jinja": {"trimmed": "true"}}
# Subjects of `sentences.toml` that pages and terminal alone show, which are English.
ENGLISH_ALONE = (
    "coach",
    "places in a picture",
    "sides of a blind place",
    "stages",
    "guide in short",
    "live camera",
)
Message = str | tuple[str, ...]


def messages() -> Iterator[tuple[Message, str]]:
    """Every sentence with the file that it stands in."""
    found = extract_from_dir(PACKAGE, METHODS, OPTIONS, keywords=KEYWORDS, comment_tags=())
    for file, _, message, _, _ in found:
        yield message, str(file)
    for subject in tomllib.loads(FILE.read_text(encoding="utf-8")):
        if subject not in ENGLISH_ALONE and not subject.startswith("guide: "):
            for sentence in messages_of(table(subject)):
                yield sentence, subject
    for sentence in guide_messages():
        yield sentence, "guide"
    for word in trade_terms():
        yield word, "terms of the trade"


def messages_of(found: Table) -> Iterator[str]:
    """What a customer reads of a table: the sentences, without what page and terminal are told to do."""
    for wording in found.values():
        yield wording.says if isinstance(wording, Wording) else wording


def guide_messages() -> Iterator[str]:
    """Every sentence of the printed guide."""
    yield from (guide.TITLE, guide.OTHER_SIDE, guide.FILL_IN, *guide.NOTES, *guide.LABELS)
    for section in guide.SECTIONS:
        yield section.heading
        for item in section.items:
            yield from (item.lead, item.words)


def trade_terms() -> Iterator[str]:
    """Words of the trade and names in the shipped tables, which papers print."""
    tables = load_tables()
    yield from (panel.name for rows in tables.panels.values() for panel in rows)
    yield from tables.panels
    yield from (name for rung in tables.ladder for name in (rung.name, rung.pad, rung.machine))
    yield from (grade.name for grade in tables.decontamination)
    yield from (kind.name for kind in tables.protection)
    yield from (LABEL, *DAMAGE_KINDS, *MATERIALS, *PAINTS, *STEP_KINDS, *STAGE_NAMES, *PLACES, *COLOURS)
    rows = (tables.film, tables.gauge, tables.times, *tables.surface, *tables.ladder, *tables.protection)
    yield from dict.fromkeys(row.source for row in rows)


# Words that shops are apt to type, so that papers in another language have them too.
PLACES = ("left", "right", "middle", "front", "rear", "edge", "repair")
COLOURS = ("black", "white", "grey", "silver", "blue", "red", "green", "yellow", "brown", "beige", "orange")


def up_to_date(language: str) -> Catalog:
    """The catalogue of a language with every sentence of the program, translated as far as its file goes."""
    file = FOLDER / f"{language}.po"
    known = Catalog(locale=language)
    if file.is_file():
        with file.open("rb") as source:
            known = read_po(source, locale=language)
    made = known.creation_date  # as it was: the file changes only where its sentences do
    fresh = Catalog(locale=language, project="defectmap", fuzzy=False, creation_date=made)
    for message, place in messages():
        key = message[0] if isinstance(message, tuple) else message
        kept = known.get(key)
        string = kept.string if kept is not None and not kept.fuzzy else ""
        fresh.add(message, string or ("" if isinstance(message, str) else ("", "")), locations=[(place, 0)])
    return fresh


def untranslated(catalogue: Catalog) -> list[str]:
    """Sentences without a translation."""
    return [str(one.id) for one in catalogue if one.id and not _translated(one.string)]


def _translated(string: Message) -> bool:
    return all(string) if isinstance(string, tuple | list) else bool(string)


def main(codes: list[str]) -> None:
    """Bring the named languages up to date; all that there are if none is named."""
    for code in codes or [one for one in languages() if one != SOURCE]:
        catalogue = up_to_date(code)
        with Path(FOLDER / f"{code}.po").open("wb") as out:
            write_po(out, catalogue, sort_output=True, omit_header=False, width=110, include_lineno=False)
        missing = untranslated(catalogue)
        print(f"{code}: {len(catalogue)} sentences, {len(missing)} without a translation")
        for one in missing:
            print(f"  {one}")


if __name__ == "__main__":
    main(sys.argv[1:])
