"""Changes of the database's shape, in order (alembic)."""
