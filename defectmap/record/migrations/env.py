"""Run the migrations on the connection that `defectmap.record.database` opened, in its transaction."""

from alembic import context

from defectmap.record.model import Base

context.configure(connection=context.config.attributes["connection"], target_metadata=Base.metadata)
with context.begin_transaction():
    context.run_migrations()
