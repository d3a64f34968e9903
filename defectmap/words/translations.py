"""Languages: one file of translations each, `languages/CODE.po` (the format of GNU gettext).

English needs none: its sentences are the keys. `docs/languages.py` finds every sentence in the program and
brings the files up to date; to add a language, make its file, translate it, and choose it as the shop's.
"""

from __future__ import annotations

import gettext
import io
from functools import cache
from pathlib import Path

FOLDER = Path(__file__).with_name("languages")
SOURCE = "en"


def languages() -> tuple[str, ...]:
    """Codes of the languages that there are, English first.

    Examples
    --------
    >>> languages()[0]
    'en'
    """
    return (SOURCE, *sorted(file.stem for file in FOLDER.glob("*.po")))


@cache
def translations(language: str) -> gettext.NullTranslations:
    """The sentences of a language; those without a translation, and an unknown language, stay English."""
    file = FOLDER / f"{language}.po"
    if language not in languages()[1:]:
        return gettext.NullTranslations()
    from babel.messages.mofile import write_mo
    from babel.messages.pofile import read_po

    with file.open("rb") as source:
        catalogue = read_po(source, locale=language)
    compiled = io.BytesIO()
    write_mo(compiled, catalogue)
    compiled.seek(0)
    return gettext.GNUTranslations(compiled)
