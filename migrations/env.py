"""Alembic environment: the connection is handed over by the program, there is no ini file."""

from alembic import context

from heattrace.schema.tables import metadata


def run() -> None:
    connection = context.config.attributes["connection"]
    context.configure(connection=connection, target_metadata=metadata(), render_as_batch=True, transactional_ddl=True)
    with context.begin_transaction():
        context.run_migrations()


run()
