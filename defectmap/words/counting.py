"""Numbers with their nouns, in English, for the page and the terminal."""

from __future__ import annotations


def counted(number: int, noun: str) -> str:
    """A number with its noun.

    Examples
    --------
    >>> counted(1, "photograph"), counted(3, "photograph"), counted(2, "pass"), counted(2, "scratch")
    ('1 photograph', '3 photographs', '2 passes', '2 scratches')
    """
    plural = f"{noun}es" if noun.endswith(("s", "x", "ch")) else f"{noun}s"
    return f"{number} {noun if number == 1 else plural}"
