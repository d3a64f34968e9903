"""Films among the photographs, and their share of directions beside the figures."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Add the columns; what is there is of photographs."""
    op.add_column("photograph", sa.Column("film", sa.Boolean(), nullable=False, server_default=sa.false()))
    op.add_column("measurement", sa.Column("directions_share", sa.Double(), nullable=True))
