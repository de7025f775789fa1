"""Alembic migrations; a migration never imports the tables."""
