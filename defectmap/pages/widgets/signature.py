"""A signature under a finger, or with a mouse; who cannot draw signs on paper."""

from __future__ import annotations

from defectmap.pages.browser import component, decoded, keeper, taken_up
from defectmap.record.signatures import MAX_PICTURE_BYTES, PNG

WORDS = {"label": "Sign here with a finger", "clear": "Wipe", "keep": "Keep the signature"}


def signature_field(*, done: int, key: str) -> bytes | None:
    """Draw it; the PNG that was signed since it was last asked.

    Parameters
    ----------
    done : int
        Changes when a signature was kept, and so empties the field.
    """
    component("signature")(data={**WORDS, "done": done}, key=key, on_signed_change=keeper(key, "signed"))
    return signed_from(taken_up(key, "signed"))


def signed_from(given: object) -> bytes | None:
    """What a browser hands over, checked; None where it is no picture.

    Examples
    --------
    >>> signed_from({"png": "aGVsbG8="}) is None
    True
    """
    picture = decoded(given, "png")
    fits = picture is not None and picture.startswith(PNG) and len(picture) <= MAX_PICTURE_BYTES
    return picture if fits else None
