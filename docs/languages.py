"""Find every sentence that is translated, and bring the languages' files up to date.

    .venv/bin/python docs/languages.py

New sentences are added without a translation and listed; those that are gone are dropped. To add a language,
run it with its code (`docs/languages.py es`), translate `defectmap/words/languages/es.po`, and choose it as
the shop's.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.pofile import read_po, write_po

from defectmap.words.catalogue import TABLES, guide_messages, messages_of
from defectmap.words.translations import FOLDER, SOURCE, languages

PACKAGE = FOLDER.parents[1]
KEYWORDS = {"tell": None, "tell_many": (1, 2), "N_": None}
METHODS = [("**.py", "python"), ("**/templates/**.jinja", "jinja2")]
OPTIONS = {"**/templates/**.jinja": {"trimmed": "true"}}
Message = str | tuple[str, ...]


def messages() -> Iterator[tuple[Message, str]]:
    """Every sentence with the file that it stands in."""
    found = extract_from_dir(PACKAGE, METHODS, OPTIONS, keywords=KEYWORDS, comment_tags=())
    for file, _, message, _, _ in found:
        yield message, str(file)
    for name, table in TABLES.items():
        for sentence in messages_of(table):
            yield sentence, name
    for sentence in guide_messages():
        yield sentence, "guide"


def up_to_date(language: str) -> Catalog:
    """The catalogue of a language with every sentence of the program, translated as far as its file goes."""
    file = FOLDER / f"{language}.po"
    fresh = Catalog(locale=language, project="defectmap", fuzzy=False)
    known = Catalog(locale=language)
    if file.is_file():
        with file.open("rb") as source:
            known = read_po(source, locale=language)
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
