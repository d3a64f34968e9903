"""The report of the demo: built up panel by panel, so that no photograph is held longer than it is needed."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from defectmap.report.content import PanelSection, PhotographEntry, Report
    from defectmap.report.fromcomparisons import ComparedPanel

JOB_FILE = "job.json"
POSTING = "posting.jpg"


@dataclass(slots=True)
class DemoReport:
    """Sections so far, and what the sample job says of the car."""

    samples: Path
    job: dict[str, Any] = field(init=False)
    sections: list[PanelSection] = field(default_factory=list)
    photographs: list[PhotographEntry] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Read the job file."""
        self.job = json.loads((self.samples / JOB_FILE).read_text(encoding="utf-8"))

    @property
    def stages(self) -> Mapping[Any, Any]:
        """Stage of each side."""
        found: Mapping[Any, Any] = self.job.get("stages", {})
        return found

    def add(self, name: str, compared: ComparedPanel | None, records: Mapping[Any, dict[str, Any]]) -> None:
        """Add one panel, compared or not."""
        from defectmap.report.fromcomparisons import compared_section, refused_section

        if compared is not None:
            section, entries = compared_section(compared)
        else:
            sides = ([records[side]] if side in records else [] for side in ("before", "after"))
            section, entries = refused_section(name, *sides)
        self.sections.append(section)
        self.photographs += entries

    def report(self) -> Report:
        """The report of what was added."""
        from defectmap.report.assembling import Heading, assemble

        vehicle = ", ".join(word for word in (self.job.get("vehicle"), self.job.get("colour")) if word)
        heading = Heading(
            title="Paint before and after",
            made_on=date.today().isoformat(),
            reference=self.job.get("reference"),
            vehicle=vehicle or None,
        )
        return assemble(heading, self.sections, self.photographs)

    def write(self, out: Path) -> None:
        """Write page, PDFs, figures, claims and, where a panel can be shown, the picture for posting."""
        from defectmap.report.claims import claim_sheet
        from defectmap.report.posting import NothingToPost
        from defectmap.report.writing import write_claims, write_posting, write_report

        report = self.report()
        write_report(report, out / "report.html", audience="full")
        write_report(report, out / "report.pdf", audience="customer")
        write_report(report, out / "report-full.pdf", audience="full")
        write_report(report, out / "figures.csv")
        write_claims(claim_sheet(report), out / "claims.html")
        try:
            write_posting(report, out / POSTING)
        except NothingToPost:
            (out / POSTING).unlink(missing_ok=True)  # one of an earlier run would be of other figures
