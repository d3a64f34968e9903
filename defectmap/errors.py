"""What a person can get wrong, one class each, every sentence saying what to do next.

The command line and the pages catch `DefectmapError` in one place; anything else is a bug and shows itself.
"""

from __future__ import annotations


class DefectmapError(Exception):
    """Something a person can put right; the message is one sentence that says how."""

    exit_code = 2


class PhotoError(DefectmapError):
    """This photograph cannot be measured; the message says why and what to do."""

    exit_code = 3


class UnreadablePhoto(PhotoError):
    """The file is no photograph, is truncated, or is of a kind that is not read."""


class PhotoSizeError(PhotoError):
    """The picture has too few pixels to measure or more than the stated limit."""


class NoHotspot(PhotoError):
    """No reflection of a lamp was found, or it is cut by the frame."""


class UnmeasurableLight(PhotoError):
    """The photograph is too dark, too overexposed or too blurred to measure."""


class ScaleError(DefectmapError):
    """The scale that was given or found cannot be right."""
