"""The JSON side, one module a subject. Every module here that has a ``router`` is part of the application."""
