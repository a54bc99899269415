"""Run by alembic: applies the changes on the connection that the store hands over."""

from alembic import context

from chantwright.parish.records.tables import Base

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Base.metadata,
    render_as_batch=True,
)
with context.begin_transaction():
    context.run_migrations()
