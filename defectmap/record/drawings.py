"""Drawn pictures that the record keeps itself, a shop's mark and signatures: small, PNG, without metadata."""

from __future__ import annotations

import io

from defectmap.errors import JobError, PhotoError


def small_drawing(picture: bytes, *, name: str, longest_side_px: int) -> bytes:
    """A picture as the record keeps it; read like every file that somebody sends, by a decoder with limits.

    Parameters
    ----------
    picture : bytes
        PNG, JPEG or WebP.
    name : str
        What to call it in a refusal.

    Returns
    -------
    bytes
        PNG on white.

    Raises
    ------
    JobError
        It is not a picture that can be read.
    """
    from PIL import Image

    from defectmap.panel.photo.photograph import drawing_copy

    try:
        small = drawing_copy(picture, longest_side_px=longest_side_px, name=name)
    except PhotoError as error:
        raise JobError(f"{name} is not a picture that can be read; give a PNG or JPEG file.") from error
    file = io.BytesIO()
    Image.fromarray(small).save(file, format="PNG", optimize=True)
    return file.getvalue()
