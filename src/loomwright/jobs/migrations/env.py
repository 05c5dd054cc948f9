"""What Alembic runs: the migrations, on the connection it was given."""

from alembic import context

from loomwright.jobs.schema import metadata

__all__: list[str] = []

context.configure(
    connection=context.config.attributes["connection"], target_metadata=metadata)
with context.begin_transaction():
    context.run_migrations()
