"""Words that cannot drive a terminal."""

from __future__ import annotations


def safe(words: object) -> str:
    """Words with every control character shown instead of obeyed (an imported name may hold any).

    Examples
    --------
    >>> safe("roof\\x1b[2J")
    'roof\\\\x1b[2J'
    """
    return "".join(
        c if c.isprintable() or c == "\n" else c.encode("unicode_escape").decode() for c in str(words)
    )
