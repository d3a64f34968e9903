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


class UnreadableFilm(UnreadablePhoto):
    """The file is no film, is cut off, or is coded in a way that is not read."""


class UnmeasurableFilm(PhotoError):
    """The film can be read, but shows no lamp that moves over one spot of paint."""


class PhotoSizeError(PhotoError):
    """The picture has too few pixels to measure or more than the stated limit."""


class NoHotspot(PhotoError):
    """No reflection of a lamp was found, or it is cut by the frame."""


class LampCut(NoHotspot):
    """The lamp's reflection is cut by the frame."""


class UnmeasurableLight(PhotoError):
    """The photograph is too dark, too overexposed or too blurred to measure."""


class ScaleError(DefectmapError):
    """The scale that was given or found cannot be right."""


class JobError(DefectmapError):
    """Something about a job or its record that a person can put right."""


class NotInRecord(JobError):
    """A job, panel, spot or photograph of that name is not in the record."""


class AlreadyInRecord(JobError):
    """That name is taken, or that photograph already stands elsewhere in the job."""


class ChangedMeanwhile(JobError):
    """Somebody else changed the same thing since it was read."""


class RecordBusy(JobError):
    """Another program kept the record locked for longer than the waiting time."""


class RecordTooNew(JobError):
    """The record was written by a newer version of this program."""


class RecordUnavailable(JobError):
    """The folder or the database of the record cannot be opened."""


class OriginalsUnreachable(RecordUnavailable):
    """The object store of the originals does not answer, or does not let us in."""


class BadPhotographFile(JobError):
    """A file that was to be added cannot be read, is empty, or is above the stated size."""


class OriginalDamaged(JobError):
    """A kept original is missing or no longer has the hash it was kept under."""


class UnsafeArchive(JobError):
    """A job file is not a job file, is damaged, or tries to reach outside its place."""


class TablesError(JobError):
    """The file of trade tables cannot be used; every error is listed with its place."""

    def __init__(self, message: str, problems: tuple[str, ...] = ()) -> None:
        """Keep the single problems, for a page that shows each beside its field."""
        super().__init__(message)
        self.problems = problems


class PanelNotComparable(JobError):
    """A photograph of the panel was refused when it was to be compared."""

    exit_code = 3


class OldResult(JobError):
    """A photograph was measured in an earlier way than this version measures."""


class BadReading(JobError):
    """A film thickness reading cannot be right."""
