"""What can go wrong with a record of jobs, one class each, every sentence saying what to do next."""

from __future__ import annotations

from defectmap.errors import DefectmapError


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


class BadReading(JobError):
    """A film thickness reading cannot be right."""
