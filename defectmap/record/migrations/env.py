"""Run the migrations on the connection that `defectmap.record.database` opened, in its transaction."""

from alembic import context

from defectmap.record.logbook import JOB_TABLES

context.configure(connection=context.config.attributes["connection"], target_metadata=JOB_TABLES[0].metadata)
with context.begin_transaction():
    context.run_migrations()
