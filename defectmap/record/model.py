"""The tables of the record, for SQLite and PostgreSQL alike.

Times are ISO 8601 text in UTC with microseconds: they sort as they read and survive both databases unchanged.
Identities begin with their time and end at random (`rows.new_id`), so that two records can be merged without
renumbering. Nothing is deleted:
what was entered by mistake is set aside with a reason. Large results stand last in their row, packed, so
that an overview never has to read them.
"""

from __future__ import annotations

from typing import ClassVar

from sqlalchemy import Double, ForeignKey, LargeBinary, MetaData, Text, UniqueConstraint
from sqlalchemy.orm import DeclarativeBase, Mapped, deferred, mapped_column

NAMES = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}


class Base(DeclarativeBase):
    """Every table of the record."""

    metadata = MetaData(naming_convention=NAMES)
    type_annotation_map: ClassVar = {str: Text(), float: Double()}


class Setup(Base):
    """One named setting of the shop (JSON): its name, its units, its capture profile."""

    __tablename__ = "setup"

    name: Mapped[str] = mapped_column(primary_key=True)
    value: Mapped[str]
    changed_at: Mapped[str]


class Vehicle(Base):
    """One car (van, motorcycle, boat) over its life; nothing here says whose it is."""

    __tablename__ = "vehicle"

    id: Mapped[str] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(unique=True)  # whatever the shop calls it
    kind: Mapped[str]
    make: Mapped[str]  # free text
    colour: Mapped[str]
    paint: Mapped[str]
    created_at: Mapped[str]
    version: Mapped[int]


class Keeper(Base):
    """Whose vehicle it is: personal data, kept apart, in no export unless asked for."""

    __tablename__ = "keeper"

    vehicle_id: Mapped[str] = mapped_column(ForeignKey("vehicle.id"), primary_key=True)
    name: Mapped[str]
    contact: Mapped[str]
    plate: Mapped[str]


class Job(Base):
    """One visit of a car (van, motorcycle, boat)."""

    __tablename__ = "job"

    id: Mapped[str] = mapped_column(primary_key=True)
    reference: Mapped[str] = mapped_column(unique=True)
    customer: Mapped[str]  # a reference, never needed to be a name
    kind: Mapped[str]
    vehicle: Mapped[str]
    colour: Mapped[str]
    paint: Mapped[str]
    target: Mapped[str]  # JSON
    created_at: Mapped[str]
    changed_at: Mapped[str]
    version: Mapped[int]
    vehicle_id: Mapped[str | None] = mapped_column(ForeignKey("vehicle.id"), index=True)
    closed_at: Mapped[str | None]


class Panel(Base):
    """One panel of a job."""

    __tablename__ = "panel"
    __table_args__ = (UniqueConstraint("job_id", "name"),)

    id: Mapped[str] = mapped_column(primary_key=True)
    job_id: Mapped[str] = mapped_column(ForeignKey("job.id"))
    name: Mapped[str]
    position: Mapped[int]
    material: Mapped[str]
    area_m2: Mapped[float]
    repainted: Mapped[str]  # no, yes, unknown
    clear_coat_um: Mapped[float | None]  # only where a gauge that sees layers measured it
    catches_nail: Mapped[bool]  # a scratch that a fingernail catches
    version: Mapped[int]
    paint: Mapped[str] = mapped_column(default="")  # where it differs from the vehicle's
    painted_on: Mapped[str | None]  # day of a new paint


class Spot(Base):
    """One place on a panel that is photographed at each stage."""

    __tablename__ = "spot"
    __table_args__ = (UniqueConstraint("panel_id", "name"),)

    id: Mapped[str] = mapped_column(primary_key=True)
    panel_id: Mapped[str] = mapped_column(ForeignKey("panel.id"))
    name: Mapped[str]


class Original(Base):
    """One kept file, named by the SHA-256 of its bytes."""

    __tablename__ = "original"

    sha256: Mapped[str] = mapped_column(primary_key=True)
    size_bytes: Mapped[int]
    kept_at: Mapped[str]


class Photograph(Base):
    """An original at its place in a job: which spot, which stage."""

    __tablename__ = "photograph"
    __table_args__ = (UniqueConstraint("job_id", "sha256"),)

    id: Mapped[str] = mapped_column(primary_key=True)
    job_id: Mapped[str] = mapped_column(ForeignKey("job.id"))
    spot_id: Mapped[str] = mapped_column(ForeignKey("spot.id"), index=True)
    sha256: Mapped[str] = mapped_column(ForeignKey("original.sha256"))
    stage: Mapped[str]
    name: Mapped[str]
    taken_at: Mapped[str | None]
    added_at: Mapped[str]
    px_per_mm: Mapped[float | None]
    field_width_mm: Mapped[float | None]
    warnings: Mapped[str]  # JSON: the gates that were open when it was added
    set_aside: Mapped[str | None]
    film: Mapped[bool] = mapped_column(default=False)  # of one spot while the lamp moves


class Measurement(Base):
    """What one version of the program with one set of settings found in one photograph."""

    __tablename__ = "measurement"
    __table_args__ = (UniqueConstraint("photograph_id", "program_version", "settings_sha256"),)

    id: Mapped[str] = mapped_column(primary_key=True)
    photograph_id: Mapped[str] = mapped_column(ForeignKey("photograph.id"))
    program_version: Mapped[str]
    settings: Mapped[str]  # JSON
    settings_sha256: Mapped[str]
    made_at: Mapped[str]
    refused: Mapped[str | None]
    calibrated: Mapped[bool]
    swirl: Mapped[float | None]
    scratch: Mapped[float | None]
    every_mark: Mapped[float | None]
    longest_scratch_mm: Mapped[float | None]
    haze: Mapped[float | None]
    score: Mapped[float | None]
    seal: Mapped[str]
    directions_share: Mapped[float | None]  # of a film
    body: Mapped[bytes] = deferred(mapped_column(LargeBinary))


class Lease(Base):
    """A photograph that is being measured just now; see `leases`."""

    __tablename__ = "lease"

    photograph_id: Mapped[str] = mapped_column(ForeignKey("photograph.id"), primary_key=True)
    settings_sha256: Mapped[str] = mapped_column(primary_key=True)
    holder: Mapped[str]
    until: Mapped[str]


class KeptComparison(Base):
    """Before against after on one panel."""

    __tablename__ = "comparison"
    __table_args__ = (UniqueConstraint("panel_id", "program_version", "settings_sha256"),)

    id: Mapped[str] = mapped_column(primary_key=True)
    panel_id: Mapped[str] = mapped_column(ForeignKey("panel.id"))
    before_stage: Mapped[str]
    after_stage: Mapped[str]
    program_version: Mapped[str]
    settings: Mapped[str]  # JSON; holds the hashes of the photographs on both sides
    settings_sha256: Mapped[str]
    made_at: Mapped[str]
    verdict: Mapped[str]
    seal: Mapped[str]
    body: Mapped[bytes] = deferred(mapped_column(LargeBinary))
