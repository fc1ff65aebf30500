"""Revisions of the tables, one set for SQLite and PostgreSQL."""
