"""Run the migrations on the connection that `defectmap.job.database` hands over, inside its transaction."""

from alembic import context

from defectmap.job.model import Base

context.configure(connection=context.config.attributes["connection"], target_metadata=Base.metadata)
with context.begin_transaction():
    context.run_migrations()
