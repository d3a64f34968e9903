"""Gauge readings as somebody types them on a phone."""

from __future__ import annotations

import re

from defectmap.errors import BadReading

MOST = 50


def read_numbers(words: str) -> tuple[float, ...]:
    """Numbers out of a line: spaces or semicolons between them, comma or point for decimals.

    Raises
    ------
    BadReading
        There is none, there are too many, or something in it is no number.

    Examples
    --------
    >>> read_numbers("112 110,5; 113.2")
    (112.0, 110.5, 113.2)
    >>> read_numbers("112, 110, 113")
    (112.0, 110.0, 113.0)
    """
    parts = [part.strip(",") for part in re.split(r"[\s;]+", words.strip()) if part.strip(",")]
    if not parts or len(parts) > MOST:
        raise BadReading(f"Type 1 to {MOST} readings with spaces between them, such as: 112 110 113.")
    values = []
    for part in parts:
        if not re.fullmatch(r"\d+([.,]\d+)?", part):
            raise BadReading(
                f"{part!r} is not a valid reading; type numbers with spaces between them: 112 110 113."
            )
        values.append(float(part.replace(",", ".")))
    return tuple(values)
