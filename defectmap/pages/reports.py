"""A job's report, its files made when they are wanted, and a key that tells when it has to be made anew."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import streamlit as st
from sqlalchemy import Executable, select

from defectmap.record import logbook, model
from defectmap.record.notes import setting
from defectmap.record.rows import find_job
from defectmap.record.sealing import canonical, sha256_of_text

if TYPE_CHECKING:
    from defectmap.record.store import Store
    from defectmap.report.content import Audience, Report
    from defectmap.report.privacy import BlurBox

BLURRED = "unreadable boxes of job"


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeReport:
    """A report as the page shows it; its files are made when somebody asks for one.

    `no_posting` says why no panel can be posted.
    """

    report: Report
    audience: Audience
    html: str
    no_posting: str | None
    store: Store

    def pdf(self) -> bytes:
        """The report to print."""
        from defectmap.report.pdf import report_pdf

        return report_pdf(self.report, audience=self.audience)

    def page(self) -> bytes:
        """The report as one HTML file."""
        return self.html.encode()

    def table(self) -> bytes:
        """All figures, for a spreadsheet."""
        from defectmap.report.table import report_table

        return report_table(self.report).encode("utf-8-sig")

    def posting(self) -> bytes:
        """One picture sized for posting."""
        from defectmap.report.posting import posting_picture

        return posting_picture(self.report)

    def claims(self) -> bytes:
        """What advertising may say, from this job and the others of the shop."""
        from defectmap.report.claimpages import claims_pdf
        from defectmap.report.claims import claim_sheet
        from defectmap.report.typical import job_results

        return claims_pdf(claim_sheet(self.report, jobs=job_results(self.store)))


@st.cache_resource(max_entries=8, show_spinner="Writing the report …")
def made_report(
    _store: Store,
    reference: str,
    state: str,
    *,
    made_on: str,
    audience: Audience = "customer",
    customer: bool = False,
    file_names: bool = False,
) -> MadeReport:
    """The report of a job with the pictures that its version shows, made once while nothing in it changes.

    Parameters
    ----------
    state : str
        See `state_of_record`: the key.

    Raises
    ------
    DefectmapError
        There is no such job.
    """
    from defectmap.record.jobs import job_named
    from defectmap.record.signatures import pictures_allowed
    from defectmap.report.fromjob import report_from_job
    from defectmap.report.page import report_html
    from defectmap.report.posting import NothingToPost, panel_to_post
    from defectmap.report.privacy import PrivacyChoice

    boxes = setting(_store, f"{BLURRED} {job_named(_store, reference).id}", {}) or {}
    choice = PrivacyChoice(customer=customer, file_names=file_names, blurred=boxes_from(boxes))
    found = report_from_job(_store, reference, made_on=made_on, choice=choice, close_ups=audience == "full")
    refused = pictures_allowed(_store, reference) is False
    why = "The customer does not want pictures of this car to be shown." if refused else None
    try:
        panel_to_post(found)
    except NothingToPost as error:
        why = str(error)
    html = report_html(found, audience=audience)
    return MadeReport(report=found, audience=audience, html=html, no_posting=why, store=_store)


def boxes_from(kept: Mapping[str, Sequence[Sequence[float]]]) -> dict[str, list[BlurBox]]:
    """Boxes as the record keeps them (left, top, right, bottom, as shares), by photograph.

    Raises
    ------
    BoxError
        One of them is no box.
    """
    from defectmap.report.privacy import BlurBox

    return {
        sha256: [BlurBox(left=b[0], top=b[1], right=b[2], bottom=b[3]) for b in boxes]
        for sha256, boxes in kept.items()
    }


def state_of_record(store: Store, reference: str) -> str:
    """A hash that changes with anything that a report of this job shows, or that forbids showing it."""
    with store.reading() as session:
        job = find_job(session, reference)
        state: list[object] = [job.version]
        for query in _shown_in_a_report(job.id):
            state.append(sorted(str(tuple(row)) for row in session.execute(query)))
    own = store.own_tables
    tables = own.read_text(encoding="utf-8") if own.exists() else ""
    return sha256_of_text(canonical([state, tables]))


def _shown_in_a_report(job_id: str) -> tuple[Executable, ...]:
    panels = select(model.Panel.id).where(model.Panel.job_id == job_id)
    spots = select(model.Spot.id).where(model.Spot.panel_id.in_(panels))
    shots = select(model.Photograph.id).where(model.Photograph.spot_id.in_(spots))
    photograph, step, reading = model.Photograph, logbook.Step, logbook.Reading
    damage, signature = logbook.Damage, logbook.Signature
    return (
        select(model.Panel.id, model.Panel.version).where(model.Panel.job_id == job_id),
        select(photograph.id, photograph.set_aside, photograph.stage).where(photograph.spot_id.in_(spots)),
        select(model.Measurement.id).where(model.Measurement.photograph_id.in_(shots)),
        select(model.KeptComparison.id).where(model.KeptComparison.panel_id.in_(panels)),
        select(step.id, step.set_aside).where(step.panel_id.in_(panels)),
        select(reading.id, reading.set_aside, reading.explained).where(reading.panel_id.in_(panels)),
        select(damage.id, damage.set_aside).where(damage.panel_id.in_(panels)),
        select(signature.id).where(signature.job_id == job_id),  # consent decides what may be posted
        select(model.Setup.name, model.Setup.changed_at).where(model.Setup.name.not_like("network %")),
    )
