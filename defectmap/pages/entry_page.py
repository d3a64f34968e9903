"""What a device of the network sees before it is let in: one field, or one button, and no script."""

from __future__ import annotations

import html

_PAGE = """<!doctype html>
<html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>defectmap</title><style>
body {{ font: 18px sans-serif; margin: 2rem auto; max-width: 26rem; padding: 0 1rem }}
body {{ color: #0b1220; background: #fff }}
input, button {{ font: inherit; width: 100%; box-sizing: border-box; padding: .7rem; margin: .5rem 0 }}
button {{ background: #1d4e89; color: #fff; border: 0; border-radius: 6px }}
p.problem {{ color: #9b1c1c }}
</style></head><body><h1>defectmap</h1>{problem}
<form method="post" action="/enter">{field}<button type="submit">Open</button></form></body></html>
"""
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
