"""A job's report, its files made when they are wanted, and a key that tells when it has to be made anew."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import streamlit as st
from sqlalchemy import select

from defectmap.record import logbook, model
from defectmap.record.notes import setting
from defectmap.record.rows import find_job
from defectmap.record.sealing import canonical, sha256_of_text

if TYPE_CHECKING:
    from defectmap.record.store import Store
    from defectmap.report.blurring import BlurBox
    from defectmap.report.content import Audience, Report

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


def make_report(
    store: Store,
    reference: str,
    *,
    made_on: str,
    audience: Audience,
    customer: bool,
    file_names: bool,
) -> MadeReport:
    """Make the report of a job, with the pictures that its version shows.

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

    boxes = setting(store, f"{BLURRED} {job_named(store, reference).id}", {}) or {}
    choice = PrivacyChoice(customer=customer, file_names=file_names, blurred=boxes_from(boxes))
    found = report_from_job(store, reference, made_on=made_on, choice=choice, close_ups=audience == "full")
    refused = pictures_allowed(store, reference) is False
    why = "The customer does not want pictures of this car to be shown." if refused else None
    try:
        panel_to_post(found)
    except NothingToPost as error:
        why = str(error)
    html = report_html(found, audience=audience)
    return MadeReport(report=found, audience=audience, html=html, no_posting=why, store=store)


@st.cache_resource(max_entries=8, show_spinner="Writing the report …")
def made_report(
    reference: str,
    state: str,
    audience: str,
    with_customer: bool,
    with_files: bool,
    made_on: str,
    _store: Store,
) -> MadeReport:
    """The report of a job as it stands, made once while nothing in it changes; `state` is the key."""
    return make_report(
        _store,
        reference,
        made_on=made_on,
        audience="full" if audience == "full" else "customer",
        customer=with_customer,
        file_names=with_files,
    )


def boxes_from(kept: Mapping[str, Sequence[Sequence[float]]]) -> dict[str, list[BlurBox]]:
    """Boxes as the record keeps them (left, top, right, bottom, as shares), by photograph.

    Raises
    ------
    BoxError
        One of them is no box.
    """
    from defectmap.report.blurring import BlurBox

    return {
        sha256: [BlurBox(left=b[0], top=b[1], right=b[2], bottom=b[3]) for b in boxes]
        for sha256, boxes in kept.items()
    }


def state_of_record(store: Store, reference: str) -> str:
    """A hash that changes with anything that a report of this job shows."""
    with store.reading() as session:
        job = find_job(session, reference)
        panels = session.execute(
            select(model.Panel.id, model.Panel.version).where(model.Panel.job_id == job.id)
        ).all()
        ids = [panel.id for panel in panels]
        spots = select(model.Spot.id).where(model.Spot.panel_id.in_(ids))
        photographs = session.execute(
            select(model.Photograph.id, model.Photograph.set_aside, model.Photograph.stage).where(
                model.Photograph.spot_id.in_(spots)
            )
        ).all()
        shots = [one.id for one in photographs]
        held = [
            session.scalars(query).all()
            for query in (
                select(model.Measurement.id).where(model.Measurement.photograph_id.in_(shots)),
                select(model.KeptComparison.id).where(model.KeptComparison.panel_id.in_(ids)),
            )
        ]
        entered = [
            [tuple(row) for row in session.execute(query)]
            for query in (
                select(logbook.Step.id, logbook.Step.set_aside).where(logbook.Step.panel_id.in_(ids)),
                select(logbook.Reading.id, logbook.Reading.set_aside).where(
                    logbook.Reading.panel_id.in_(ids)
                ),
            )
        ]
        settings = [
            (row.name, row.changed_at)
            for row in session.scalars(select(model.Setup).where(model.Setup.name.not_like("network %")))
        ]
        state = [job.version, [tuple(p) for p in panels], [tuple(p) for p in photographs], *held, *entered]
    own = store.own_tables
    tables = own.read_text(encoding="utf-8") if own.exists() else ""
    plain_state = [sorted(map(str, part)) if isinstance(part, list) else str(part) for part in state]
    return sha256_of_text(canonical([plain_state, sorted(map(str, settings)), tables]))
