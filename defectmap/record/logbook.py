"""The tables of what was done to a car and what was said about it; the others stand in `model`."""

from __future__ import annotations

from sqlalchemy import ForeignKey, LargeBinary, UniqueConstraint
from sqlalchemy.orm import Mapped, deferred, mapped_column

from defectmap.record.model import (
    Base,
    Job,
    KeptComparison,
    Measurement,
    Original,
    Panel,
    Photograph,
    Spot,
    Vehicle,
)


class Reading(Base):
    """One reading of a film thickness gauge."""

    __tablename__ = "reading"

    id: Mapped[str] = mapped_column(primary_key=True)
    panel_id: Mapped[str] = mapped_column(ForeignKey("panel.id"), index=True)
    place: Mapped[str]  # readings of one place lie within a circle of about 4 cm
    value_um: Mapped[float]
    entered: Mapped[str]  # as it was typed, with its unit
    at: Mapped[str]
    set_aside: Mapped[str | None]
    stage: Mapped[str] = mapped_column(default="")
    again: Mapped[bool] = mapped_column(default=False)  # a second look, exactly where the lowest was read
    explained: Mapped[str | None]  # why it is low


class Step(Base):
    """One thing done to a panel (or to one spot of it)."""

    __tablename__ = "step"

    id: Mapped[str] = mapped_column(primary_key=True)
    panel_id: Mapped[str] = mapped_column(ForeignKey("panel.id"), index=True)
    spot_id: Mapped[str | None] = mapped_column(ForeignKey("spot.id"))
    kind: Mapped[str]
    rung: Mapped[str | None]
    product: Mapped[str]
    pad: Mapped[str]
    machine: Mapped[str]
    sets: Mapped[int]  # workings of a section, four to six movements each
    section_s: Mapped[float | None]
    removal_low_um: Mapped[float]
    removal_high_um: Mapped[float]
    warnings: Mapped[str]  # JSON
    at: Mapped[str]
    set_aside: Mapped[str | None]
    by: Mapped[str] = mapped_column(default="")
    minutes: Mapped[float | None]


class Running(Base):
    """Work that was started and not yet stopped."""

    __tablename__ = "running"

    id: Mapped[str] = mapped_column(primary_key=True)
    panel_id: Mapped[str] = mapped_column(ForeignKey("panel.id"), index=True)
    kind: Mapped[str]
    by: Mapped[str]
    started_at: Mapped[str]


class Damage(Base):
    """Damage that was there at intake: where, with a photograph, and why it stays where it does."""

    __tablename__ = "damage"

    id: Mapped[str] = mapped_column(primary_key=True)
    panel_id: Mapped[str] = mapped_column(ForeignKey("panel.id"), index=True)
    kind: Mapped[str]
    x: Mapped[float | None]  # on the car's plan, shares of its width and height
    y: Mapped[float | None]
    words: Mapped[str]
    stays: Mapped[str | None]  # why it is not corrected; None where it is to be worked on
    sha256: Mapped[str | None] = mapped_column(ForeignKey("original.sha256"))
    at: Mapped[str]
    set_aside: Mapped[str | None]


class CareDate(Base):
    """A day on which something about the care of the car is due."""

    __tablename__ = "care_date"

    id: Mapped[str] = mapped_column(primary_key=True)
    job_id: Mapped[str] = mapped_column(ForeignKey("job.id"), index=True)
    day: Mapped[str]
    kind: Mapped[str]
    words: Mapped[str]
    done_at: Mapped[str | None]


class Signature(Base):
    """What a customer signed: personal data, in no export unless asked for."""

    __tablename__ = "signature"

    id: Mapped[str] = mapped_column(primary_key=True)
    job_id: Mapped[str] = mapped_column(ForeignKey("job.id"), index=True)
    what: Mapped[str]  # intake, pictures, hand-over
    words: Mapped[str]  # what was agreed, as it stood there
    given: Mapped[bool]  # a consent may be refused
    signed_by: Mapped[str]
    at: Mapped[str]
    picture: Mapped[bytes | None] = deferred(mapped_column(LargeBinary))  # PNG; None where it is on paper


class StageEntry(Base):
    """A stage that a panel entered, and which gates were open then."""

    __tablename__ = "stage_entry"

    id: Mapped[str] = mapped_column(primary_key=True)
    panel_id: Mapped[str] = mapped_column(ForeignKey("panel.id"), index=True)
    stage: Mapped[str]
    warnings: Mapped[str]  # JSON
    at: Mapped[str]


class Note(Base):
    """Free words about a job or a panel."""

    __tablename__ = "note"

    id: Mapped[str] = mapped_column(primary_key=True)
    job_id: Mapped[str] = mapped_column(ForeignKey("job.id"), index=True)
    panel_id: Mapped[str | None] = mapped_column(ForeignKey("panel.id"))
    words: Mapped[str]
    at: Mapped[str]


class Check(Base):
    """One line of a checklist."""

    __tablename__ = "checklist_line"
    __table_args__ = (UniqueConstraint("job_id", "list_name", "words"),)

    id: Mapped[str] = mapped_column(primary_key=True)
    job_id: Mapped[str] = mapped_column(ForeignKey("job.id"))
    list_name: Mapped[str]
    words: Mapped[str]
    position: Mapped[int]
    done_at: Mapped[str | None]
    done_by: Mapped[str | None]


# What belongs to a job, parents before children: the order in which rows can be inserted.
JOB_TABLES: tuple[type[Base], ...] = (
    Vehicle,
    Job,
    Panel,
    Spot,
    Original,
    Photograph,
    Measurement,
    KeptComparison,
    Reading,
    Step,
    Damage,
    CareDate,
    StageEntry,
    Note,
    Check,
)
