"""The record as first published: jobs, panels, spots, photographs, results, readings, steps, notes."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Create every table."""
    op.create_table(
        "job",
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("reference", sa.Text(), nullable=False),
        sa.Column("customer", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("vehicle", sa.Text(), nullable=False),
        sa.Column("colour", sa.Text(), nullable=False),
        sa.Column("paint", sa.Text(), nullable=False),
        sa.Column("target", sa.Text(), nullable=False),
        sa.Column("created_at", sa.Text(), nullable=False),
        sa.Column("changed_at", sa.Text(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_job")),
        sa.UniqueConstraint("reference", name=op.f("uq_job_reference")),
    )
    op.create_table(
        "original",
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("size_bytes", sa.Integer(), nullable=False),
        sa.Column("kept_at", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("sha256", name=op.f("pk_original")),
    )
    op.create_table(
        "setup",
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("value", sa.Text(), nullable=False),
        sa.Column("changed_at", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_setup")),
    )
    op.create_table(
        "checklist_line",
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("job_id", sa.Text(), nullable=False),
        sa.Column("list_name", sa.Text(), nullable=False),
        sa.Column("words", sa.Text(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("done_at", sa.Text(), nullable=True),
        sa.Column("done_by", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_checklist_line_job_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_checklist_line")),
        sa.UniqueConstraint(
            "job_id", "list_name", "words", name=op.f("uq_checklist_line_job_id_list_name_words")
        ),
    )
    op.create_table(
        "panel",
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("job_id", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("material", sa.Text(), nullable=False),
        sa.Column("area_m2", sa.Double(), nullable=False),
        sa.Column("repainted", sa.Text(), nullable=False),
        sa.Column("clear_coat_um", sa.Double(), nullable=True),
        sa.Column("catches_nail", sa.Boolean(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_panel_job_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_panel")),
        sa.UniqueConstraint("job_id", "name", name=op.f("uq_panel_job_id_name")),
    )
    op.create_table(
        "comparison",
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("panel_id", sa.Text(), nullable=False),
        sa.Column("before_stage", sa.Text(), nullable=False),
        sa.Column("after_stage", sa.Text(), nullable=False),
        sa.Column("program_version", sa.Text(), nullable=False),
        sa.Column("settings", sa.Text(), nullable=False),
        sa.Column("settings_sha256", sa.Text(), nullable=False),
        sa.Column("made_at", sa.Text(), nullable=False),
        sa.Column("verdict", sa.Text(), nullable=False),
        sa.Column("seal", sa.Text(), nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=True),
        sa.ForeignKeyConstraint(["panel_id"], ["panel.id"], name=op.f("fk_comparison_panel_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_comparison")),
        sa.UniqueConstraint(
            "panel_id",
            "program_version",
            "settings_sha256",
            name=op.f("uq_comparison_panel_id_program_version_settings_sha256"),
        ),
    )
    op.create_table(
        "note",
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("job_id", sa.Text(), nullable=False),
        sa.Column("panel_id", sa.Text(), nullable=True),
        sa.Column("words", sa.Text(), nullable=False),
        sa.Column("at", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_note_job_id")),
        sa.ForeignKeyConstraint(["panel_id"], ["panel.id"], name=op.f("fk_note_panel_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_note")),
    )
    op.create_index(op.f("ix_note_job_id"), "note", ["job_id"], unique=False)
    op.create_table(
        "reading",
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("panel_id", sa.Text(), nullable=False),
        sa.Column("place", sa.Text(), nullable=False),
        sa.Column("value_um", sa.Double(), nullable=False),
        sa.Column("entered", sa.Text(), nullable=False),
        sa.Column("at", sa.Text(), nullable=False),
        sa.Column("set_aside", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["panel_id"], ["panel.id"], name=op.f("fk_reading_panel_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reading")),
    )
    op.create_index(op.f("ix_reading_panel_id"), "reading", ["panel_id"], unique=False)
    op.create_table(
        "spot",
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("panel_id", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["panel_id"], ["panel.id"], name=op.f("fk_spot_panel_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_spot")),
        sa.UniqueConstraint("panel_id", "name", name=op.f("uq_spot_panel_id_name")),
    )
    op.create_table(
        "stage_entry",
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("panel_id", sa.Text(), nullable=False),
        sa.Column("stage", sa.Text(), nullable=False),
        sa.Column("warnings", sa.Text(), nullable=False),
        sa.Column("at", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["panel_id"], ["panel.id"], name=op.f("fk_stage_entry_panel_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stage_entry")),
    )
    op.create_index(op.f("ix_stage_entry_panel_id"), "stage_entry", ["panel_id"], unique=False)
    op.create_table(
        "photograph",
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("job_id", sa.Text(), nullable=False),
        sa.Column("spot_id", sa.Text(), nullable=False),
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("stage", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("taken_at", sa.Text(), nullable=True),
        sa.Column("added_at", sa.Text(), nullable=False),
        sa.Column("px_per_mm", sa.Double(), nullable=True),
        sa.Column("field_width_mm", sa.Double(), nullable=True),
        sa.Column("warnings", sa.Text(), nullable=False),
        sa.Column("set_aside", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_photograph_job_id")),
        sa.ForeignKeyConstraint(["sha256"], ["original.sha256"], name=op.f("fk_photograph_sha256")),
        sa.ForeignKeyConstraint(["spot_id"], ["spot.id"], name=op.f("fk_photograph_spot_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_photograph")),
        sa.UniqueConstraint("job_id", "sha256", name=op.f("uq_photograph_job_id_sha256")),
    )
    op.create_index(op.f("ix_photograph_spot_id"), "photograph", ["spot_id"], unique=False)
    op.create_table(
        "step",
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("panel_id", sa.Text(), nullable=False),
        sa.Column("spot_id", sa.Text(), nullable=True),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("rung", sa.Text(), nullable=True),
        sa.Column("product", sa.Text(), nullable=False),
        sa.Column("pad", sa.Text(), nullable=False),
        sa.Column("machine", sa.Text(), nullable=False),
        sa.Column("passes", sa.Integer(), nullable=False),
        sa.Column("section_s", sa.Double(), nullable=True),
        sa.Column("removal_low_um", sa.Double(), nullable=False),
        sa.Column("removal_high_um", sa.Double(), nullable=False),
        sa.Column("warnings", sa.Text(), nullable=False),
        sa.Column("at", sa.Text(), nullable=False),
        sa.Column("set_aside", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["panel_id"], ["panel.id"], name=op.f("fk_step_panel_id")),
        sa.ForeignKeyConstraint(["spot_id"], ["spot.id"], name=op.f("fk_step_spot_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_step")),
    )
    op.create_index(op.f("ix_step_panel_id"), "step", ["panel_id"], unique=False)
    op.create_table(
        "measurement",
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("photograph_id", sa.Text(), nullable=False),
        sa.Column("program_version", sa.Text(), nullable=False),
        sa.Column("settings", sa.Text(), nullable=False),
        sa.Column("settings_sha256", sa.Text(), nullable=False),
        sa.Column("made_at", sa.Text(), nullable=False),
        sa.Column("refused", sa.Text(), nullable=True),
        sa.Column("calibrated", sa.Boolean(), nullable=False),
        sa.Column("swirl", sa.Double(), nullable=True),
        sa.Column("scratch", sa.Double(), nullable=True),
        sa.Column("every_mark", sa.Double(), nullable=True),
        sa.Column("longest_scratch_mm", sa.Double(), nullable=True),
        sa.Column("haze", sa.Double(), nullable=True),
        sa.Column("score", sa.Double(), nullable=True),
        sa.Column("seal", sa.Text(), nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=True),
        sa.ForeignKeyConstraint(
            ["photograph_id"], ["photograph.id"], name=op.f("fk_measurement_photograph_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_measurement")),
        sa.UniqueConstraint(
            "photograph_id",
            "program_version",
            "settings_sha256",
            name=op.f("uq_measurement_photograph_id_program_version_settings_sha256"),
        ),
    )
