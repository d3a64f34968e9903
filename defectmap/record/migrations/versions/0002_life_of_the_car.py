"""The life of a car: vehicles, keepers, damage, care dates, signatures; readings by stage; who did it."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Add the tables and columns; what is there gets the values that say nothing."""
    _vehicles()
    _what_hangs_on_a_job()
    op.add_column("panel", sa.Column("paint", sa.Text(), nullable=False, server_default=""))
    op.add_column("panel", sa.Column("painted_on", sa.Text(), nullable=True))
    op.add_column("reading", sa.Column("stage", sa.Text(), nullable=False, server_default=""))
    op.add_column("reading", sa.Column("again", sa.Boolean(), nullable=False, server_default=sa.false()))
    op.add_column("reading", sa.Column("explained", sa.Text(), nullable=True))
    op.add_column("step", sa.Column("by", sa.Text(), nullable=False, server_default=""))
    op.add_column("step", sa.Column("minutes", sa.Double(), nullable=True))


def _vehicles() -> None:
    op.create_table(
        "vehicle",
        *_text("id", "name", "kind", "make", "colour", "paint", "created_at"),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_vehicle")),
        sa.UniqueConstraint("name", name=op.f("uq_vehicle_name")),
    )
    op.create_table(
        "keeper",
        *_text("vehicle_id", "name", "contact", "plate"),
        sa.ForeignKeyConstraint(["vehicle_id"], ["vehicle.id"], name=op.f("fk_keeper_vehicle_id")),
        sa.PrimaryKeyConstraint("vehicle_id", name=op.f("pk_keeper")),
    )
    # Written out: SQLite takes a foreign key only together with its column.
    op.execute(
        "ALTER TABLE job ADD COLUMN vehicle_id TEXT CONSTRAINT fk_job_vehicle_id REFERENCES vehicle (id)"
    )
    op.add_column("job", sa.Column("closed_at", sa.Text(), nullable=True))
    op.create_index(op.f("ix_job_vehicle_id"), "job", ["vehicle_id"], unique=False)


def _what_hangs_on_a_job() -> None:
    op.create_table(
        "running",
        *_text("id", "panel_id", "kind", "by", "started_at"),
        sa.ForeignKeyConstraint(["panel_id"], ["panel.id"], name=op.f("fk_running_panel_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_running")),
    )
    op.create_index(op.f("ix_running_panel_id"), "running", ["panel_id"], unique=False)
    op.create_table(
        "damage",
        *_text("id", "panel_id", "kind", "words", "at"),
        sa.Column("x", sa.Double(), nullable=True),
        sa.Column("y", sa.Double(), nullable=True),
        *(sa.Column(name, sa.Text(), nullable=True) for name in ("stays", "sha256", "set_aside")),
        sa.ForeignKeyConstraint(["panel_id"], ["panel.id"], name=op.f("fk_damage_panel_id")),
        sa.ForeignKeyConstraint(["sha256"], ["original.sha256"], name=op.f("fk_damage_sha256")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_damage")),
    )
    op.create_index(op.f("ix_damage_panel_id"), "damage", ["panel_id"], unique=False)
    op.create_table(
        "care_date",
        *_text("id", "job_id", "day", "kind", "words"),
        sa.Column("done_at", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_care_date_job_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_care_date")),
    )
    op.create_index(op.f("ix_care_date_job_id"), "care_date", ["job_id"], unique=False)
    op.create_table(
        "signature",
        *_text("id", "job_id", "what", "words", "signed_by", "at"),
        sa.Column("given", sa.Boolean(), nullable=False),
        sa.Column("picture", sa.LargeBinary(), nullable=True),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_signature_job_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_signature")),
    )
    op.create_index(op.f("ix_signature_job_id"), "signature", ["job_id"], unique=False)


def _text(*names: str) -> list[sa.Column[str]]:
    return [sa.Column(name, sa.Text(), nullable=False) for name in names]
