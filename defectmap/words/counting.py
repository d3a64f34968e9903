"""How the record's sentences say things."""

from __future__ import annotations


def counted(number: int, noun: str) -> str:
    """A number with its noun.

    Examples
    --------
    >>> counted(1, "photograph"), counted(3, "photograph"), counted(2, "pass")
    ('1 photograph', '3 photographs', '2 passes')
    """
    plural = f"{noun}es" if noun.endswith("s") else f"{noun}s"
    return f"{number} {noun if number == 1 else plural}"
