"""Leases: which photographs are being measured just now, and by whom."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Add the table."""
    op.create_table(
        "lease",
        *(sa.Column(name, sa.Text(), nullable=False) for name in ("photograph_id", "settings_sha256")),
        *(sa.Column(name, sa.Text(), nullable=False) for name in ("holder", "until")),
        sa.ForeignKeyConstraint(["photograph_id"], ["photograph.id"], name=op.f("fk_lease_photograph_id")),
        sa.PrimaryKeyConstraint("photograph_id", "settings_sha256", name=op.f("pk_lease")),
    )
