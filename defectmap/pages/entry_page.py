"""What a device of the network sees before it is let in: one field, or one button, and no script."""

from __future__ import annotations

import html
from pathlib import Path

_PAGE = Path(__file__).parent.joinpath("browser", "entry.html").read_text(encoding="utf-8")
_FIELD = (
    '<label for="p">Passphrase of this shop</label>'
    '<input id="p" name="passphrase" type="password" autocomplete="current-password" autofocus required>'
)


def entry_page(*, word: str = "", problem: str = "") -> bytes:
    """The page that asks for the passphrase, or with a one-time word only for a touch.

    A touch is needed so that a program which merely looks at the address does not use the word up.

    Parameters
    ----------
    word : str
        One-time word from the code that was photographed.
    problem : str
        Why the try before this one failed.
    """
    said = f'<p class="problem" role="alert">{html.escape(problem)}</p>' if problem else ""
    hidden = f'<input type="hidden" name="word" value="{html.escape(word, quote=True)}">'
    return _PAGE.format(problem=said, field=hidden if word else _FIELD).encode()
