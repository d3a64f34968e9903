"""The JSON file of a run, written record by record, so that a run that ends early loses nothing."""

from __future__ import annotations

import os
from pathlib import Path
from types import TracebackType
from typing import IO

from defectmap.outputs import OutputError, refuse_foreign, write_file
from defectmap.panel.codec import Record, json_text

UNFINISHED = ".unfinished"  # behind the name, until the run has ended


class RecordsFile:
    """Takes one record after the other; used as a context.

    Records of several photographs are an array. It grows in a file beside its final name and gets that name
    at the end. Where the run is stopped it stays beside it, sound JSON of what was done. A disk that fills up
    costs this file and not the run: `problem` says so.
    """

    def __init__(self, target: Path | None, *, several: bool) -> None:
        """Write to `target`, or nowhere."""
        self._target = target
        self._several = several
        self._file: IO[str] | None = None
        self._separator = "[\n"
        self.problem: str | None = None

    def __enter__(self) -> RecordsFile:
        """Open the unfinished file, where there will be several records.

        Raises
        ------
        OutputError
            It cannot be written.
        """
        if (
            self._target is None
            or not self._several
            or (self._target.exists() and not self._target.is_file())
        ):
            return self
        self.unfinished = self._target.with_name(self._target.name + UNFINISHED)
        refuse_foreign(self.unfinished)
        try:
            self._target.parent.mkdir(parents=True, exist_ok=True)
            self._file = self.unfinished.open("w", encoding="utf-8")
        except OSError as error:
            raise OutputError(
                f"{self._target} cannot be written ({error.strerror}); choose another place."
            ) from error
        return self

    def add(self, record: Record) -> None:
        """Write one record."""
        if self._target is None or self.problem is not None:
            return
        try:
            if self._file is None:
                write_file(self._target, json_text([record] if self._several else record).encode())
                return
            self._file.write(self._separator + json_text(record).rstrip("\n"))
            self._file.flush()
            self._separator = ",\n"
        except OutputError as error:
            self.problem = str(error)
        except OSError as error:
            self.problem = f"{self._target} cannot be written further ({error.strerror})."

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """End the array; give it its name, unless the run was stopped."""
        if self._file is None or self._target is None:
            return
        some = self._separator != "[\n"
        try:
            with self._file:
                self._file.write("\n]\n")
            if error is None and self.problem is None:
                refuse_foreign(self._target)
                os.replace(self.unfinished, self._target)
            elif not some:
                self.unfinished.unlink()
        except OutputError as problem:
            self.problem = str(problem)
        except OSError as problem:
            self.problem = f"{self._target} cannot be written ({problem.strerror})."
