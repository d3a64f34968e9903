"""What a step counts are sets, as people say them: a working of a section of four to six movements."""

from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Rename the column; its numbers stay."""
    op.alter_column("step", "passes", new_column_name="sets")
